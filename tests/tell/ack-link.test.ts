import { createHmac } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY } from '../../src/model/time.js'
import { createLinkMaker, signLink, verifyLink } from '../../src/tell/ack-link.js'
import { AFTERNOON } from './support.js'

const SECRET = 'a secret of this installation'
const EXPIRES = AFTERNOON + 7 * DAY
const sign = (secret = SECRET) => signLink(secret, 'juniper', 'freezing:tank outlet', AFTERNOON, 'ops', EXPIRES)

describe('an acknowledgement link', () => {
  it('says which occurrence, for whom and until when', () => {
    expect(verifyLink(SECRET, sign(), AFTERNOON)).toEqual({
      ok: true,
      site: 'juniper',
      alarmKey: 'freezing:tank outlet',
      raised: AFTERNOON,
      person: 'ops',
      expires: EXPIRES,
    })
  })

  it('is good to the last moment of its time, any number of times, and not after', () => {
    expect(verifyLink(SECRET, sign(), EXPIRES - 1).ok).toBe(true)
    expect(verifyLink(SECRET, sign(), EXPIRES - 1).ok).toBe(true)
    expect(verifyLink(SECRET, sign(), EXPIRES)).toEqual({ ok: false, reason: 'expired' })
  })

  it('carries the first 16 bytes of HMAC-SHA-256 over its payload, as node:crypto works it out', () => {
    const [payload = '', tag = ''] = sign().split('.')
    const expected = createHmac('sha256', SECRET).update(`acknowledge.${payload}`).digest().subarray(0, 16)
    expect(Buffer.from(tag, 'base64url').equals(expected)).toBe(true)
  })

  it('made with another secret, or changed in any character of its payload, is refused', () => {
    expect(verifyLink(SECRET, sign('another secret of the same length'), AFTERNOON)).toEqual({
      ok: false,
      reason: 'forged',
    })
    const token = sign()
    const dot = token.indexOf('.')
    fc.assert(
      fc.property(fc.integer({ min: 0, max: dot - 1 }), fc.constantFrom(...'abcXYZ019-_'), (at, char) => {
        if (token[at] === char) return
        const changed = token.slice(0, at) + char + token.slice(at + 1)
        expect(verifyLink(SECRET, changed, AFTERNOON)).toEqual({ ok: false, reason: 'forged' })
      }),
    )
  })

  it('takes any text without throwing', () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 200 }), (text) => {
        expect(verifyLink(SECRET, text, AFTERNOON).ok).toBe(false)
      }),
    )
    expect(verifyLink(SECRET, `${'a'.repeat(5_000)}.b`, AFTERNOON)).toEqual({ ok: false, reason: 'malformed' })
  })

  it('is not made with a secret short enough to guess, nor over a name that could pass for two', () => {
    expect(() => sign('short')).toThrow(/5 bytes, expected at least 16/)
    expect(() => signLink(SECRET, 'juniper', 'a\nb', 1, 'ops', 2)).toThrow(/line break/)
  })

  it('in a message is a whole address whose last part is good for 7 days', () => {
    const make = createLinkMaker({ secret: SECRET, site: 'juniper', page: 'https://j.example/', now: () => AFTERNOON })
    const address = make('freezing:tank outlet', 'ops', AFTERNOON)
    expect(address).toMatch(/^https:\/\/j\.example\/ack\/[\w.-]+$/)
    const token = address.slice(address.lastIndexOf('/') + 1)
    expect(verifyLink(SECRET, token, AFTERNOON + 7 * DAY - 1)).toMatchObject({ ok: true, person: 'ops' })
    expect(verifyLink(SECRET, token, AFTERNOON + 7 * DAY)).toEqual({ ok: false, reason: 'expired' })
  })
})
