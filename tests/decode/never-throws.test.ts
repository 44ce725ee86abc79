import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createDecoder } from '../../src/decode/decoder.js'
import { LIMITS } from '../../src/model/limits.js'
import type { Decoded } from '../../src/model/sample.js'
import { AT, arrivalOf, boardOf, signalOf, siteOf } from './site.js'

const OWN = 'water/juniper/tank-board'
const OLD = 'old/board'
const SITE = siteOf([
  boardOf('tank-board', [
    signalOf('tank-level'),
    signalOf('tank-probe-low'),
    signalOf('pump-volume'),
    signalOf('air-temperature', { decode: 'number', topic: OLD, unit: 'degF' }),
    signalOf('battery-voltage', { decode: 'json', topic: OLD, pointer: '/a/0' }),
    signalOf('tank-probe-full', { decode: 'json', topic: OLD, pointer: '' }),
  ]),
])
const decoder = createDecoder([SITE])

/** What must hold of any outcome whatever: times in bounds, values believable, examples short and printable. */
function holds(decoded: readonly Decoded[]): void {
  for (const { samples, refusals } of decoded) {
    for (const { t, value } of samples) {
      expect(Number.isInteger(t)).toBe(true)
      expect(t).toBeLessThanOrEqual(AT + LIMITS.aheadMaxMs)
      expect(t).toBeGreaterThanOrEqual(AT - LIMITS.ageMaxMs)
      expect(value === Number.POSITIVE_INFINITY || value === Number.NEGATIVE_INFINITY).toBe(false)
    }
    for (const { example } of refusals) {
      expect(example.length).toBeLessThanOrEqual(LIMITS.exampleCharsMax)
      expect(example).not.toMatch(/[\p{Cc}\p{Zl}\p{Zp}]/u)
      // A lone half of a surrogate pair does not survive UTF-8.
      expect(new TextDecoder().decode(new TextEncoder().encode(example))).toBe(example)
    }
  }
}

const jsonNumber = fc.oneof(
  fc.double(),
  fc.integer(),
  fc.constantFrom(0, -127, 85, 4095, 65535, 1e308, 2_085_978_496, 2 ** 28, AT / 1000),
)
const member = fc.oneof(jsonNumber, fc.string({ unit: 'binary' }), fc.boolean(), fc.constant(null), fc.jsonValue())
const label = fc.oneof(
  fc.constantFrom(
    'n',
    'v',
    'u',
    't',
    'vb',
    'vs',
    'vd',
    's',
    'ut',
    'bn',
    'bt',
    'bu',
    'bv',
    'bs',
    'bver',
    '__proto__',
    'x_',
  ),
  fc.string(),
)
const record = fc.oneof(
  fc.dictionary(label, member),
  fc.record(
    {
      n: fc.constantFrom('tank-level', 'tank-probe-low', 'pump-volume', 'x:tank-level'),
      u: fc.constantFrom('m', 'mm', 'l', 'l/s', '', 'V'),
      v: jsonNumber,
      t: jsonNumber,
      bt: jsonNumber,
      s: jsonNumber,
    },
    { requiredKeys: ['n'] },
  ),
  fc.jsonValue(),
)

describe('whatever arrives', () => {
  it('random bytes never throw, and are always counted', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 400 }), fc.constantFrom(OWN, OLD, 'x'), (payload, topic) => {
        const decoded = decoder.decode(arrivalOf(topic, payload))
        holds(decoded)
        expect(decoded.every(({ samples, refusals }) => samples.length + refusals.length > 0)).toBe(true)
      }),
      { numRuns: 3000 },
    )
  })

  it('packs of any content never throw, and every sample is believable', () => {
    fc.assert(
      fc.property(fc.array(record, { maxLength: 12 }), (pack) => {
        holds(decoder.decode(arrivalOf(OWN, pack)))
      }),
      { numRuns: 3000 },
    )
  })

  it('a good pack with bytes changed, cut out or put in never throws', () => {
    const good = new TextEncoder().encode(
      '[{"bn":"tank-board:","bt":1764000000,"n":"tank-level","u":"m","v":1.25},{"n":"tank-probe-low","vb":true,"t":-5}]',
    )
    const edit = fc.tuple(fc.nat(good.length - 1), fc.nat(3), fc.uint8Array({ maxLength: 3 }))
    fc.assert(
      fc.property(fc.array(edit, { minLength: 1, maxLength: 5 }), (edits) => {
        const bytes = [...good]
        for (const [at, cut, put] of edits) bytes.splice(at, cut, ...put)
        holds(decoder.decode(arrivalOf(OWN, Uint8Array.from(bytes))))
      }),
      { numRuns: 3000 },
    )
  })

  it('any JSON at a mapped topic never throws', () => {
    fc.assert(
      fc.property(fc.json(), (text) => {
        holds(decoder.decode(arrivalOf(OLD, text)))
      }),
      { numRuns: 2000 },
    )
  })

  it('a good record is kept whatever stands before and after it, base fields aside', () => {
    const harmless = record.filter(
      (one) => typeof one !== 'object' || one === null || !Object.keys(one).some((key) => key.startsWith('b')),
    )
    fc.assert(
      fc.property(fc.array(harmless, { maxLength: 5 }), fc.array(harmless, { maxLength: 5 }), (before, after) => {
        const [decoded] = decoder.decode(
          arrivalOf(OWN, [...before, { n: 'tank-level', u: 'm', v: 1.375, t: -7 }, ...after]),
        )
        expect(decoded?.samples).toContainEqual({ key: 'tank-level', role: 'tank-level', t: AT - 7000, value: 1.375 })
      }),
      { numRuns: 1000 },
    )
  })

  it('a hostile text of nothing but quotes and letters n costs no more than its length', () => {
    const sent = `["${'\\"n'.repeat(20_000)}`
    const start = performance.now()
    for (let round = 0; round < 20; round++) decoder.decode(arrivalOf(OWN, sent))
    expect(performance.now() - start).toBeLessThan(2_000)
  })
})
