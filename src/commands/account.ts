import { randomBytes } from 'node:crypto'
import type { AccountRole } from '../record/accounts.js'
import { openStore } from '../record/store.js'
import { readConfig, type Surroundings, WrongWords } from './words.js'

export type AccountWords = { readonly config: string; readonly role?: string; readonly site?: string }

const ROLES = ['owner', 'viewer', 'board'] as const
const SECRET_BYTES = 18

/** `account add|remove|list`: accounts of people and boards; only salted hashes are kept. */
export async function account(
  act: string,
  name: string | undefined,
  words: AccountWords,
  world: Surroundings,
): Promise<number> {
  const settings = readConfig(words.config)
  if (act !== 'list' && name === undefined) throw new WrongWords(`account ${act}: a NAME is needed`)
  const store = openStore({
    file: settings.store.file,
    now: world.clock.now(),
    ...(act === 'list' ? { readOnly: true } : {}),
  })
  try {
    if (act === 'list') {
      for (const one of store.accounts.list()) world.out(`${one.name}\t${one.role}\t${one.site ?? 'all sites'}\n`)
      return 0
    }
    if (act === 'remove') {
      if (!store.accounts.remove(name ?? '')) throw new WrongWords(`account remove: found no account "${name}"`)
      world.out(`${name} removed\n`)
      return 0
    }
    if (act !== 'add') throw new WrongWords(`account ${act}: expected add, remove or list`)
    const role = ROLES.find((one) => one === words.role)
    if (role === undefined) throw new WrongWords(`--role ${words.role ?? '(none)'}: expected ${ROLES.join(', ')}`)
    await add(store, name ?? '', role, words.site, world)
    return 0
  } finally {
    store.close()
  }
}

async function add(
  store: ReturnType<typeof openStore>,
  name: string,
  role: AccountRole,
  site: string | undefined,
  world: Surroundings,
): Promise<void> {
  const given = world.readSecret()
  const secret = given === '' ? randomBytes(SECRET_BYTES).toString('base64url') : given
  await store.accounts.add({ name, role, ...(site === undefined ? {} : { site }) }, secret, world.clock.now())
  world.out(given === '' ? `${name} (${role}); its secret, shown this once: ${secret}\n` : `${name} (${role}) added\n`)
}
