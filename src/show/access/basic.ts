/** HTTP Basic (RFC 7617) for scripts and metric collectors: the same accounts, without a cookie. */
import { createHash } from 'node:crypto'
import { MINUTE, type Ms } from '../../model/time.js'
import type { PersonRole, ShowSource } from '../source.js'

/** What was right a moment ago need not be hashed again: scrypt at each scrape would tire a small board. */
const REMEMBER_MS = 5 * MINUTE
const REMEMBERED_MAX = 64

export type BasicChecker = (header: string, now: Ms) => Promise<string | null>

/** Splits `Basic …` into name and secret; null when the header is of another kind or broken. */
export function parseBasic(header: string): { name: string; secret: string } | null {
  const match = /^basic +([A-Za-z0-9+/=]+)$/i.exec(header)
  if (match?.[1] === undefined) return null
  const text = Buffer.from(match[1], 'base64').toString('utf8')
  const colon = text.indexOf(':')
  return colon < 0 ? null : { name: text.slice(0, colon), secret: text.slice(colon + 1) }
}

/** Returns a function that gives the account's name, or null when name or secret are wrong. */
export function createBasicChecker(verify: ShowSource['verify']): BasicChecker {
  const known = new Map<string, { name: string; until: Ms }>()
  return async (header, now) => {
    const given = parseBasic(header)
    if (given === null) return null
    const digest = createHash('sha256').update(header).digest('hex')
    const remembered = known.get(digest)
    if (remembered !== undefined && remembered.until > now) return remembered.name
    known.delete(digest)
    const role: PersonRole | null = await verify(given.name, given.secret)
    if (role === null) return null
    if (known.size >= REMEMBERED_MAX) known.clear()
    known.set(digest, { name: given.name, until: now + REMEMBER_MS })
    return given.name
  }
}
