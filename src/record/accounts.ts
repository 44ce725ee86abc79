import { createHmac, randomBytes, scrypt, timingSafeEqual } from 'node:crypto'
import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

export const ACCOUNT_ROLES = ['owner', 'viewer', 'board'] as const
export type AccountRole = (typeof ACCOUNT_ROLES)[number]

/** `site` is there where the account is good for one site only. */
export type Account = { readonly name: string; readonly role: AccountRole; readonly site?: string }

export type Accounts = {
  /** Adds an account, or gives an existing one a new role and secret. The secret is kept only as a salted hash. */
  add(account: Account, secret: string, now: Ms): Promise<void>
  /** False when there was none of that name. */
  remove(name: string): boolean
  list(): readonly Account[]
  /** A mark of each account by name, another one once its role, site or secret has been changed. */
  marks(): ReadonlyMap<string, string>
  /** The account when name and secret belong together, else null, after the same work for names that do not exist. */
  verify(name: string, secret: string): Promise<Account | null>
}

/**
 * Cost of scrypt (RFC 7914): N = 2^15, r = 8, p = 1 needs 32 MiB and some 80 ms; common practice for logins that
 * are checked now and then. Kept with each row, so that it can be raised later.
 */
const COST = 2 ** 15
const HASH_BYTES = 32
const SALT_BYTES = 16
const SECRET_CHARS_MAX = 1_024
const PROVED_MAX = 5_000
const HASHING_MAX = 2

type Row = { name: string; role: string; site: string | null; salt: Buffer; hash: Buffer; cost: number }

function hashOf(secret: string, salt: Buffer, cost: number): Promise<Buffer> {
  return new Promise((resolve, reject) => {
    const options = { N: cost, r: 8, p: 1, maxmem: 256 * cost * 8 }
    scrypt(secret.normalize('NFKC'), salt, HASH_BYTES, options, (error, hash) => {
      if (error === null) resolve(hash)
      else reject(error)
    })
  })
}

function accountOf(row: Pick<Row, 'name' | 'role' | 'site'>): Account {
  const role = ACCOUNT_ROLES.find((one) => one === row.role)
  if (role === undefined) throw new StoreError('corrupt', `account ${row.name}: found role "${row.role}"`)
  return { name: row.name, role, ...(row.site === null ? {} : { site: row.site }) }
}

function checked(account: Account, secret: string): void {
  const bad = account.name === '' || account.name.length > 200 || secret === '' || secret.length > SECRET_CHARS_MAX
  if (bad) throw new StoreError('bad-value', `account "${account.name}": name or secret is empty or too long`)
}

/** Runs at most `HASHING_MAX` scrypts side by side: each takes 32 MiB, and the boards all come back at once. */
class Turnstile {
  #inside = 0
  readonly #waiting: (() => void)[] = []

  async pass<T>(work: () => Promise<T>): Promise<T> {
    if (this.#inside >= HASHING_MAX) await new Promise<void>((resolve) => this.#waiting.push(resolve))
    else this.#inside++
    try {
      return await work()
    } finally {
      // Whoever waits next takes this place over.
      const next = this.#waiting.shift()
      if (next === undefined) this.#inside--
      else next()
    }
  }
}

/** Remembers what was proved since the start, under a key of this process: a storm of reconnects costs no scrypt. */
class Proved {
  readonly #key = randomBytes(32)
  readonly #proofs = new Map<string, Buffer>()

  #proof(row: Row, secret: string): Buffer {
    return createHmac('sha256', this.#key).update(row.hash).update(row.salt).update(secret).digest()
  }

  has(row: Row, secret: string): boolean {
    const kept = this.#proofs.get(row.name)
    return kept !== undefined && timingSafeEqual(kept, this.#proof(row, secret))
  }

  add(row: Row, secret: string): void {
    this.#proofs.delete(row.name)
    this.#proofs.set(row.name, this.#proof(row, secret))
    for (const name of this.#proofs.keys()) {
      if (this.#proofs.size <= PROVED_MAX) return
      this.#proofs.delete(name)
    }
  }
}

export function createAccounts(sql: Sql): Accounts {
  const put = sql.prepare<[string, string, string | null, Buffer, Buffer, number, number]>(
    'write an account',
    'INSERT OR REPLACE INTO account (name, role, site, salt, hash, cost, added) VALUES (?, ?, ?, ?, ?, ?, ?)',
  )
  const remove = sql.prepare<[string]>('remove an account', 'DELETE FROM account WHERE name = ?')
  const list = sql.prepare<[], Pick<Row, 'name' | 'role' | 'site'>>(
    'read accounts',
    'SELECT name, role, site FROM account ORDER BY name',
  )
  const marks = sql.prepare<[], Pick<Row, 'name' | 'role' | 'site' | 'salt'>>(
    'read accounts',
    'SELECT name, role, site, salt FROM account',
  )
  const get = sql.prepare<[string], Row>(
    'read an account',
    'SELECT name, role, site, salt, hash, cost FROM account WHERE name = ?',
  )
  const proved = new Proved()
  const turnstile = new Turnstile()
  const nobody: Row = {
    name: '',
    role: 'viewer',
    site: null,
    salt: randomBytes(SALT_BYTES),
    hash: randomBytes(HASH_BYTES),
    cost: COST,
  }
  return {
    async add(account, secret, now) {
      checked(account, secret)
      const salt = randomBytes(SALT_BYTES)
      const hash = await turnstile.pass(() => hashOf(secret, salt, COST))
      put.run(account.name, account.role, account.site ?? null, salt, hash, COST, now)
    },
    remove: (name) => remove.run(name) > 0,
    list: () => list.all().map(accountOf),
    marks: () =>
      new Map(marks.all().map(({ name, role, site, salt }) => [name, `${role} ${site ?? ''} ${salt.toString('hex')}`])),
    async verify(name, secret) {
      if (secret.length > SECRET_CHARS_MAX) return null
      const row = get.get(name) ?? nobody
      if (row !== nobody && proved.has(row, secret)) return accountOf(row)
      const hash = await turnstile.pass(() => hashOf(secret, row.salt, row.cost))
      const same = timingSafeEqual(hash, row.hash)
      if (!same || row === nobody) return null
      proved.add(row, secret)
      return accountOf(row)
    },
  }
}
