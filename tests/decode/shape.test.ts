import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createDecoder } from '../../src/decode/decoder.js'
import { readByShape, shapeOf } from '../../src/decode/shape.js'
import { nameTable } from '../../src/decode/names.js'
import { targetOf } from '../../src/decode/target.js'
import type { Arrival, Decoded } from '../../src/model/sample.js'
import { AT, signalOf, siteOf } from './site.js'

const TOPIC = 'water/juniper/pump-board'

function arrivalOf(payload: string | Uint8Array, retain = false): Arrival {
  return { at: AT, topic: TOPIC, payload: typeof payload === 'string' ? Buffer.from(payload) : payload, retain }
}

/** What a decoder says that has never seen anything: the ordinary way. */
function ordinary(arrival: Arrival): readonly Decoded[] {
  return createDecoder([siteOf()]).decode(arrival)
}

/** What a decoder says that has seen `before` just now. */
function following(before: readonly Arrival[], arrival: Arrival): readonly Decoded[] {
  const decoder = createDecoder([siteOf()])
  for (const one of before) decoder.decode(one)
  return decoder.decode(arrival)
}

/** Numbers as firmware, and anybody else, may print them. */
const numberText = fc.oneof(
  fc.double({ min: -30, max: 30, noNaN: true }).map(String),
  fc.tuple(fc.integer({ min: -40, max: 40 }), fc.integer({ min: 0, max: 6 })).map(([n, d]) => (n / 7).toFixed(d)),
  fc.integer({ min: -3, max: 60_000 }).map(String),
  fc.constantFrom(
    '-0',
    '0',
    '0.0',
    '-0.000',
    '1e1',
    '2.5E-1',
    '00',
    '01',
    '1.',
    '.5',
    '-',
    '1.2.3',
    '1-2',
    '',
    'null',
    '4095',
  ),
  fc.constantFrom(
    'nan',
    'true',
    '"3"',
    '12.000000000000000001',
    '0.1000000000000000055511151231257827021181583404541015625',
  ),
)
const timeText = fc.oneof(
  fc.integer({ min: -40_000, max: 400 }).map((s) => (AT / 1000 + s).toFixed(3)),
  fc.integer({ min: -4_000, max: 10 }).map(String),
  fc.constantFrom('0', '123456', '1e9', '9999999999', 'null', '"x"'),
)
const form = fc.constantFrom<(...n: string[]) => string>(
  (a, b, c, d) =>
    `[{"bn":"pump-board:","bt":${d},"n":"pump-current","u":"A","v":${a}},{"n":"battery-voltage","u":"V","v":${b}},{"n":"battery-temperature","v":${c}}]`,
  (a, b, _c, d) => `[ {"n":"battery-voltage", "v": ${a}, "t":${d}} , {"n":"pump-current","u":"mA","v":${b}} ]`,
  (a, b, c, d) => `[{"bt":${d},"bv":${a}},{"n":"battery-voltage","v":${b},"t":${c}}]`,
  (a, b, c) => `[{"bver":10,"n":"battery-temperature","u":"degF","v":${a},"ut":${b}},{"n":"pump-current","v":${c}}]`,
  (a, b) => `[{"n":"pump-volume","u":"l","v":${a},"s":${b}}]`,
  (a, b) => `[{"n":"pump-flow","u":"l/s","v":${a},"v":${b}}]`,
  (a, b) => `[{"n":"battery-voltage","v":${a},"x":{"v":${b}}}]`,
  (a, b) => `[{"n":"battery-volt\\u0061ge","v":${a}},{"n":"pump-current","v":${b}}]`,
  (a, b) => `[{"v":${a},"n":"pump-current"},{"n":"pump-current","vs":"5","v":${b}}]`,
  (a, b) => `[{"n":"battery-voltage","v":${a}},${b}]`,
  (a, b) => `[{"n":"battery-voltage","v":${a}}]${b}`,
  (a) => `[{"n":"grüße","v":1},{"n":"pump-current","v":${a}}]`,
)

describe('a message of a known form', () => {
  it('is decoded as if the board had never sent anything before', () => {
    const numbers = fc.tuple(numberText, numberText, numberText, timeText)
    fc.assert(
      fc.property(
        form,
        fc.array(numbers, { minLength: 1, maxLength: 4 }),
        numbers,
        fc.boolean(),
        (one, before, now, retain) => {
          const last = arrivalOf(one(...now), retain)
          expect(
            following(
              before.map((n) => arrivalOf(one(...n))),
              last,
            ),
          ).toEqual(ordinary(last))
        },
      ),
      { numRuns: 1_500 },
    )
  })

  it('is decoded the same when one of its bytes is another', () => {
    const good = `[{"bn":"pump-board:","bt":${AT / 1000}.5,"n":"pump-current","u":"A","v":4.1},{"n":"battery-voltage","v":25.3}]`
    fc.assert(
      fc.property(fc.nat(good.length - 1), fc.integer({ min: 0, max: 255 }), (at, byte) => {
        const changed = Buffer.from(good)
        changed[at] = byte
        const arrival = arrivalOf(changed)
        expect(following([arrivalOf(good), arrivalOf(good)], arrival)).toEqual(ordinary(arrival))
      }),
      { numRuns: 1_500 },
    )
  })

  it('is decoded the same when it is cut short or goes on', () => {
    const good = `[{"bn":"pump-board:","bt":${AT / 1000}.5,"n":"pump-current","u":"A","v":4.1},{"n":"battery-voltage","v":25.3}]`
    for (let length = 0; length <= good.length + 2; length++) {
      const arrival = arrivalOf(`${good}  `.slice(0, length))
      expect(following([arrivalOf(good)], arrival)).toEqual(ordinary(arrival))
    }
  })

  it('is told by its literals: the same numbers under another name are another signal', () => {
    const [decoded] = following(
      [arrivalOf('[{"n":"battery-voltage","v":25.3}]')],
      arrivalOf('[{"n":"battery-current","v":25.3}]'),
    )
    expect(decoded?.refusals.map((one) => one.reason)).toEqual(['unknown-name'])
  })
})

describe('a shape', () => {
  const names = nameTable([targetOf(signalOf('battery-voltage')), targetOf(signalOf('tank-probe-low'))])
  const shapeOfText = (text: string) => shapeOf(Buffer.from(text), JSON.parse(text) as unknown[], names)

  it('is found for numbers, so that the fast way is taken at all', () => {
    const shape = shapeOfText(
      '[{"bt":1764000000,"n":"battery-voltage","v":25.3},{"n":"battery-voltage","t":-1,"v":25.2}]',
    )
    expect(shape?.records.map(({ v, t, bv, bt }) => [v, t, bv, bt])).toEqual([
      [1, -1, -1, 0],
      [3, 2, -1, 0],
    ])
    expect(shape?.literals.length).toBe(5)
  })

  it('reads every number to the last bit as the language does (ECMA-404 and IEEE 754 by JSON.parse)', () => {
    const shape = shapeOfText('[{"n":"battery-voltage","v":1}]')
    const digitsText = fc.stringMatching(/^-?(0|[1-9][0-9]{0,20})(\.[0-9]{1,21})?$/)
    const read = new Float64Array(1)
    fc.assert(
      fc.property(digitsText, (digits) => {
        const payload = Buffer.from(`[{"n":"battery-voltage","v":${digits}}]`)
        const taken = shape !== null && readByShape(shape, payload, read)
        expect(taken).toBe(digits.replace(/[-.]/g, '').length <= 40)
        if (taken) expect(read[0]).toBe(JSON.parse(digits))
      }),
      { numRuns: 3_000 },
    )
  })

  it.each([
    ['contacts', '[{"n":"tank-probe-low","v":1}]'],
    ['values that are no numbers', '[{"n":"tank-probe-low","vb":true}]'],
    ['sums', '[{"n":"battery-voltage","v":1,"s":2}]'],
    ['escapes', '[{"n":"battery-volt\\u0061ge","v":1}]'],
    ['a label that is there twice', '[{"n":"battery-voltage","v":1,"v":2}]'],
    ['nesting', '[{"n":"battery-voltage","v":1,"x":{"v":2}}]'],
  ])('is not made for %s', (_what, text) => {
    expect(shapeOfText(text)).toBeNull()
  })
})
