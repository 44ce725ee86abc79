import { randomBytes } from 'node:crypto'
import type { AccountRole, Accounts } from '../record/accounts.js'
import { openAccounts } from '../record/open-accounts.js'
import { openStore } from '../record/store.js'
import { StoreError } from '../record/store-error.js'
import type { DaemonSettings } from '../model/settings.js'
import { ownStore, readConfig, type Surroundings, WrongWords } from './words.js'

export type AccountWords = { readonly config: string; readonly role?: string; readonly site?: string }

const ACTS = ['add', 'remove', 'list'] as const
const ROLES = ['owner', 'viewer', 'board'] as const
const SECRET_BYTES = 18

/**
 * `account add|remove|list`: accounts of people and boards; only salted hashes are kept. Works before the first start,
 * and beside a running daemon, which knows of the change at once.
 */
export async function account(
  act: string,
  name: string | undefined,
  words: AccountWords,
  world: Surroundings,
): Promise<number> {
  const settings = readConfig(words.config)
  if (!ACTS.some((one) => one === act)) throw new WrongWords(`account ${act}: expected ${ACTS.join(', ')}`)
  if (act === 'list') return list(settings, world)
  if (name === undefined) throw new WrongWords(`account ${act}: a NAME is needed`)
  const role = ROLES.find((one) => one === words.role)
  if (act === 'add' && role === undefined) {
    throw new WrongWords(`--role ${words.role ?? '(none)'}: expected ${ROLES.join(', ')}`)
  }
  if (words.site !== undefined && !settings.sites.some((site) => site.id === words.site)) {
    const ids = settings.sites.map((site) => site.id).join(', ')
    throw new WrongWords(`--site ${words.site}: found none of that name, expected one of ${ids}`)
  }
  const { accounts, close } = writable(settings, world)
  try {
    if (role !== undefined && act === 'add') {
      await add(accounts, name, role, words.site, world)
      if (role === 'board') noteUnknownBoard(settings, name, words.site, world)
    } else remove(accounts, name, world)
    return 0
  } finally {
    close()
  }
}

function writable(settings: DaemonSettings, world: Surroundings): { accounts: Accounts; close(): void } {
  try {
    const store = ownStore(settings, world)
    return { accounts: store.accounts, close: () => store.close() }
  } catch (error) {
    if (error instanceof StoreError && error.code === 'in-use') return openAccounts(settings.store.file)
    throw error
  }
}

function list(settings: DaemonSettings, world: Surroundings): number {
  const store = openStore({ file: settings.store.file, now: world.clock.now(), readOnly: true })
  try {
    for (const one of store.accounts.list()) world.out(`${one.name}\t${one.role}\t${one.site ?? 'all sites'}\n`)
    return 0
  } finally {
    store.close()
  }
}

function remove(accounts: Accounts, name: string, world: Surroundings): void {
  if (!accounts.remove(name)) throw new WrongWords(`account remove: found no account "${name}"`)
  world.out(`${name} removed\n`)
}

async function add(
  accounts: Accounts,
  name: string,
  role: AccountRole,
  site: string | undefined,
  world: Surroundings,
): Promise<void> {
  const given = world.readSecret()
  const secret = given === '' ? randomBytes(SECRET_BYTES).toString('base64url') : given
  const had = accounts.list().some((one) => one.name === name && one.site === site)
  await accounts.add({ name, role, ...(site === undefined ? {} : { site }) }, secret, world.clock.now())
  world.out(given === '' ? `${name} (${role}); its secret, shown this once: ${secret}\n` : `${name} (${role}) added\n`)
  if (had) world.err(`note: ${name} had an account already; its old secret is no longer good\n`)
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
