/**
 * One-tap acknowledgement: a token that says which occurrence of which alarm, for whom and until when, signed with
 * HMAC-SHA-256 (RFC 2104, FIPS 180-4). Whoever holds it may acknowledge that one occurrence and nothing else, any
 * number of times with the same effect. It is only a word: showing the button (GET) and acting (POST) is the page's.
 */
import { createHmac, timingSafeEqual } from 'node:crypto'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'

/** 128 bits: half of the hash, the least that RFC 2104 section 5 allows, to keep the link short. */
const TAG_BYTES = 16
const PARTS = 5

export type AckLink = {
  readonly site: string
  readonly alarmKey: string
  readonly raised: Ms
  readonly person: string
  readonly expires: Ms
}

export type AckLinkResult =
  | ({ readonly ok: true } & AckLink)
  | { readonly ok: false; readonly reason: 'malformed' | 'forged' | 'expired' }

function tag(secret: string | Uint8Array, payload: string): Buffer {
  return createHmac('sha256', secret).update(`acknowledge.${payload}`, 'utf8').digest().subarray(0, TAG_BYTES)
}

/**
 * A token for the last part of an address: letters, digits, `-`, `_` and one dot.
 *
 * @param secret at least 16 bytes, this installation's own
 * @param expires the token is refused from this instant on
 * @throws RangeError for a secret too short to keep out a guess, or a part with a line break
 */
export function signLink(
  secret: string | Uint8Array,
  site: string,
  alarmKey: string,
  raised: Ms,
  person: string,
  expires: Ms,
): string {
  if (Buffer.byteLength(secret) < 16) {
    throw new RangeError(`signLink: the secret has ${Buffer.byteLength(secret)} bytes, expected at least 16`)
  }
  const parts = [site, alarmKey, raised.toString(36), person, expires.toString(36)]
  if (parts.some((part) => part.includes('\n'))) {
    throw new RangeError('signLink: found a line break in a name, expected one line')
  }
  const payload = Buffer.from(parts.join('\n'), 'utf8').toString('base64url')
  return `${payload}.${tag(secret, payload).toString('base64url')}`
}

function readPayload(payload: string): AckLink | null {
  const parts = Buffer.from(payload, 'base64url').toString('utf8').split('\n')
  const [site, alarmKey, raised, person, expires] = parts
  if (parts.length !== PARTS || site === undefined || alarmKey === undefined || person === undefined) return null
  const raisedAt = Number.parseInt(raised ?? '', 36)
  const expiresAt = Number.parseInt(expires ?? '', 36)
  if (!Number.isSafeInteger(raisedAt) || !Number.isSafeInteger(expiresAt)) return null
  return { site, alarmKey, raised: raisedAt, person, expires: expiresAt }
}

/** What a token says, if it was made here and is still good. The comparison takes the same time for any wrong tag. */
export function verifyLink(secret: string | Uint8Array, token: string, now: Ms): AckLinkResult {
  if (token.length > LIMITS.acknowledgeTokenCharsMax) return { ok: false, reason: 'malformed' }
  const match = /^([\w-]+)\.([\w-]+)$/.exec(token)
  const [, payload, given] = match ?? []
  if (payload === undefined || given === undefined) return { ok: false, reason: 'malformed' }
  const found = Buffer.from(given, 'base64url')
  const expected = tag(secret, payload)
  if (found.length !== expected.length || !timingSafeEqual(found, expected)) return { ok: false, reason: 'forged' }
  const link = readPayload(payload)
  if (link === null) return { ok: false, reason: 'malformed' }
  return now >= link.expires ? { ok: false, reason: 'expired' } : { ok: true, ...link }
}

export type LinkMakerOptions = {
  readonly secret: string | Uint8Array
  readonly site: string
  /** Where the page is reached from outside, such as `https://juniper.example:8180`. */
  readonly page: string
  readonly now: () => Ms
}

/** Makes the whole addresses that messages carry, good for 7 days from now: `page/ack/token`. */
export function createLinkMaker({ secret, site, page, now }: LinkMakerOptions) {
  const base = page.replace(/\/+$/, '')
  return (alarmKey: string, person: string, raised: Ms): string =>
    `${base}/ack/${signLink(secret, site, alarmKey, raised, person, now() + LIMITS.acknowledgeLinkMs)}`
}
