import { randomBytes } from 'node:crypto'
import { tokenMade } from '../daemon/token-desk.js'
import type { AccountRole } from '../record/accounts.js'
import { type OpenAccounts, openAccounts } from '../record/open-accounts.js'
import { openStore } from '../record/store.js'
import { StoreError } from '../record/store-error.js'
import type { DaemonSettings } from '../model/settings.js'
import { TOKEN_ROLES } from '../record/tokens.js'
import { instant, ownStore, readConfig, type Surroundings, WrongWords } from './words.js'

export type AccountWords = {
  readonly config: string
  readonly role?: string
  readonly site?: string
  readonly until?: string
}

const ACTS = ['add', 'remove', 'list', 'token', 'revoke'] as const
const ROLES = ['owner', 'viewer', 'board'] as const
const SECRET_BYTES = 18
/** Who it was, in the journal: whoever may write the store's file. */
const BY = 'command line'

/**
 * `account add|remove|list|token|revoke`: accounts of people and boards, tokens of scripts; only salted hashes are kept.
 * Works before the first start, and beside a running daemon, which knows of the change at once. The journal of each
 * site says what was done.
 */
export async function account(
  act: string,
  name: string | undefined,
  words: AccountWords,
  world: Surroundings,
): Promise<number> {
  const settings = readConfig(words.config)
  const known = ACTS.find((one) => one === act)
  if (known === undefined) throw new WrongWords(`account ${act}: expected ${ACTS.join(', ')}`)
  if (known === 'list') return list(settings, world)
  if (name === undefined) throw new WrongWords(`account ${act}: a NAME is needed`)
  checkWords(known, words, settings)
  const store = writable(settings, world)
  try {
    await ACT[known]({ settings, store, name, words, world })
    return 0
  } finally {
    store.close()
  }
}

function checkWords(act: string, words: AccountWords, settings: DaemonSettings): void {
  const roles: readonly string[] = act === 'token' ? TOKEN_ROLES : ROLES
  const needed = act === 'add' || words.role !== undefined
  if (needed && !roles.some((one) => one === words.role)) {
    throw new WrongWords(`--role ${words.role ?? '(none)'}: expected ${roles.join(', ')}`)
  }
  if (words.site !== undefined && !settings.sites.some((site) => site.id === words.site)) {
    const ids = settings.sites.map((site) => site.id).join(', ')
    throw new WrongWords(`--site ${words.site}: found none of that name, expected one of ${ids}`)
  }
}

type Work = {
  readonly settings: DaemonSettings
  readonly store: OpenAccounts
  readonly name: string
  readonly words: AccountWords
  readonly world: Surroundings
}

const ACT: Readonly<Record<Exclude<(typeof ACTS)[number], 'list'>, (work: Work) => unknown>> = {
  add,
  remove,
  token,
  revoke,
}

function writable(settings: DaemonSettings, world: Surroundings): OpenAccounts {
  try {
    const store = ownStore(settings, world)
    return { accounts: store.accounts, tokens: store.tokens, journal: store.journal, close: () => store.close() }
  } catch (error) {
    if (error instanceof StoreError && error.code === 'in-use') return openAccounts(settings.store.file)
    throw error
  }
}

function note({ settings, store, words, world }: Work, text: string): void {
  const at = world.clock.now()
  for (const { id } of settings.sites) {
    if (words.site !== undefined && words.site !== id) continue
    store.journal.add({ site: id, at, by: BY, text, newBaseline: false })
  }
}

function list(settings: DaemonSettings, world: Surroundings): number {
  const store = openStore({ file: settings.store.file, now: world.clock.now(), readOnly: true })
  try {
    for (const one of store.accounts.list()) world.out(`${one.name}\t${one.role}\t${one.site ?? 'all sites'}\n`)
    for (const { name, role, until } of store.tokens.list()) {
      const end = until === null ? 'until revoked' : `until ${new Date(until).toISOString()}`
      world.out(`${name}\ttoken, ${role}\t${end}\n`)
    }
    return 0
  } finally {
    store.close()
  }
}

function remove(work: Work): void {
  const { store, name, world } = work
  if (!store.accounts.remove(name)) throw new WrongWords(`account remove: found no account "${name}"`)
  note(work, `Account "${name}" removed`)
  world.out(`${name} removed\n`)
}

async function add(work: Work): Promise<void> {
  const { settings, store, name, words, world } = work
  const role: AccountRole = ROLES.find((one) => one === words.role) ?? 'viewer'
  const { site } = words
  const given = world.readSecret()
  const secret = given === '' ? randomBytes(SECRET_BYTES).toString('base64url') : given
  const had = store.accounts.list().some((one) => one.name === name && one.site === site)
  await store.accounts.add({ name, role, ...(site === undefined ? {} : { site }) }, secret, world.clock.now())
  note(work, had ? `Account "${name}" has a new secret (${role})` : `Account "${name}" added (${role})`)
  world.out(given === '' ? `${name} (${role}); its secret, shown this once: ${secret}\n` : `${name} (${role}) added\n`)
  if (had) world.err(`note: ${name} had an account already; its old secret is no longer good\n`)
  if (role === 'board') noteUnknownBoard(settings, name, site, world)
}

/** A token for a script: `Authorization: Bearer` and the text that is shown this once. */
function token(work: Work): void {
  const { store, name, words, world } = work
  const role = TOKEN_ROLES.find((one) => one === words.role) ?? 'viewer'
  const until = words.until === undefined ? null : instant(words.until, '--until')
  const now = world.clock.now()
  if (until !== null && until <= now) throw new WrongWords(`--until ${words.until}: found a time that has passed`)
  if (store.tokens.list().some((one) => one.name === name)) {
    throw new WrongWords(`account token: there is a token "${name}" already; revoke it first, or choose another name`)
  }
  const text = store.tokens.make({ name, role, until, madeBy: BY }, now)
  note(work, tokenMade(name, role, until))
  world.out(`${name} (token, ${role}); its text, shown this once: ${text}\n`)
}

function revoke(work: Work): void {
  const { store, name, world } = work
  if (!store.tokens.revoke(name)) throw new WrongWords(`account revoke: found no token "${name}"`)
  note(work, `Token "${name}" revoked`)
  world.out(`${name} revoked\n`)
}

/** A board's account is good for its own topics only: under a name that no board has, for none. */
function noteUnknownBoard(settings: DaemonSettings, name: string, site: string | undefined, world: Surroundings): void {
  const boards = settings.sites
    .filter((one) => site === undefined || one.id === site)
    .flatMap((one) => one.boards.map((board) => board.id))
  if (boards.includes(name)) return
  const known = boards.length === 0 ? 'none' : boards.join(', ')
  world.err(`note: the configuration has no board "${name}", so this account opens nothing; it has ${known}\n`)
}
