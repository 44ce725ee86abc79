import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto'
import { LIMITS } from '../model/limits.js'
import { DAY, type Ms } from '../model/time.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

export const TOKEN_ROLES = ['owner', 'viewer'] as const
export type TokenRole = (typeof TOKEN_ROLES)[number]

/** What a script may ask with, as far as it may be shown. */
export type Token = {
  readonly name: string
  readonly role: TokenRole
  readonly madeBy: string
  readonly madeAt: Ms
  /** Good before this instant; null: until it is revoked. */
  readonly until: Ms | null
  /** The day on which it was last good for something; null: never. */
  readonly usedAt: Ms | null
}

export type NewToken = Pick<Token, 'name' | 'role' | 'madeBy' | 'until'>

export type Tokens = {
  /**
   * Makes a token and returns its text, which is nowhere afterwards: only a salted HMAC of it is kept. Throws
   * StoreError `bad-value` for a name that is taken, and when there are `LIMITS.tokensMax`.
   */
  make(token: NewToken, now: Ms): string
  /** False when there was none of that name. */
  revoke(name: string): boolean
  list(): readonly Token[]
  /** The token whose text this is, if it is still good. */
  verify(text: string, now: Ms): Token | null
}

/** What the text begins with, so that people and scanners of sources know what they have found. */
const MARK = 'sightglass'
const ID_BYTES = 6
/** 256 bits, drawn at random: nothing to guess, so one round of a hash does (scrypt is for what people think up). */
const SECRET_BYTES = 32
const SALT_BYTES = 16
const FORM = new RegExp(`^${MARK}_([0-9a-f]{${ID_BYTES * 2}})_([\\w-]{43})$`)

type Row = {
  id: string
  name: string
  role: string
  salt: Buffer
  hash: Buffer
  made_by: string
  made_at: number
  until: number | null
  used_at: number | null
}

function tokenOf({ name, role, made_by, made_at, until, used_at }: Row): Token {
  const known = TOKEN_ROLES.find((one) => one === role)
  if (known === undefined) throw new StoreError('corrupt', `token ${name}: found role "${role}"`)
  return { name, role: known, madeBy: made_by, madeAt: made_at, until, usedAt: used_at }
}

function hashOf(secret: string, salt: Buffer): Buffer {
  return createHmac('sha256', salt).update(secret).digest()
}

export function createTokens(sql: Sql): Tokens {
  const put = sql.prepare<[string, string, string, Buffer, Buffer, string, number, number | null]>(
    'write a token',
    'INSERT INTO token (id, name, role, salt, hash, made_by, made_at, until) VALUES (?, ?, ?, ?, ?, ?, ?, ?)',
  )
  const all = sql.prepare<[], Row>('read tokens', 'SELECT * FROM token ORDER BY name')
  const get = sql.prepare<[string], Row>('read a token', 'SELECT * FROM token WHERE id = ?')
  const remove = sql.prepare<[string]>('revoke a token', 'DELETE FROM token WHERE name = ?')
  const used = sql.prepare<[number, string]>('note the use of a token', 'UPDATE token SET used_at = ? WHERE id = ?')

  return {
    make: ({ name, role, madeBy, until }, now) =>
      sql.transaction(() => {
        const there = all.all()
        if (name === '' || name.length > 64) throw new StoreError('bad-value', `token "${name}": a name is needed`)
        if (there.some((one) => one.name === name))
          throw new StoreError('bad-value', `token "${name}" is there already`)
        if (there.length >= LIMITS.tokensMax) {
          throw new StoreError('bad-value', `found ${there.length} tokens, expected fewer than ${LIMITS.tokensMax}`)
        }
        const id = randomBytes(ID_BYTES).toString('hex')
        const secret = randomBytes(SECRET_BYTES).toString('base64url')
        const salt = randomBytes(SALT_BYTES)
        put.run(id, name, role, salt, hashOf(secret, salt), madeBy, now, until)
        return `${MARK}_${id}_${secret}`
      }),
    revoke: (name) => remove.run(name) > 0,
    list: () => all.all().map(tokenOf),
    verify(text, now) {
      const [, id, secret] = FORM.exec(text) ?? []
      const row = id === undefined ? undefined : get.get(id)
      if (row === undefined || secret === undefined) return null
      if (!timingSafeEqual(hashOf(secret, row.salt), row.hash)) return null
      if (row.until !== null && now >= row.until) return null
      // Once a day: a collector asks each minute, and a card wears out.
      if (row.used_at === null || now - row.used_at >= DAY) used.run(now, row.id)
      return tokenOf(row)
    },
  }
}
