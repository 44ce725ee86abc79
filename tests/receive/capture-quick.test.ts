import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { captureLine, parseCaptureLine } from '../../src/receive/capture-line.js'
import { QuickLines } from '../../src/receive/capture-quick.js'

const encoder = new TextEncoder()

function quick(line: string | Uint8Array, before = '') {
  const bytes = Buffer.concat([Buffer.from(before), Buffer.from(line)])
  return new QuickLines(bytes, []).read(Buffer.byteLength(before), bytes.length)
}

/** An arrival with its payload as plain numbers, to be compared. */
function plain(found: ReturnType<typeof parseCaptureLine>) {
  return 'at' in found ? { ...found, payload: [...found.payload] } : found
}

const arrivals = fc.record({
  at: fc.integer({ min: 0, max: 9_999_999_999_999 }),
  topic: fc.oneof(fc.constantFrom('water/juniper/tank-board', 'ü/grüße', 'a"b', 'a\\b'), fc.string({ minLength: 1 })),
  payload: fc
    .oneof(
      fc.json(),
      fc.string({ unit: 'binary' }),
      fc.constantFrom('', '[{"n":"level","v":1.5}]', '"\\"', '\\u0041', 'a/b', 'tab\there', 'end\\'),
    )
    .map((text) => encoder.encode(text)),
  retain: fc.boolean(),
})

describe('a line of a capture, read from its bytes', () => {
  it('is the same message as the JSON parser finds in it, or is left to that', () => {
    fc.assert(
      fc.property(arrivals, fc.string(), (arrival, before) => {
        const line = captureLine(arrival).trimEnd()
        const found = quick(line, before)
        if (found !== null) expect(plain(found)).toEqual(plain(parseCaptureLine(line)))
      }),
      { numRuns: 2_000 },
    )
  })

  it('is never taken where the JSON parser finds something else in it', () => {
    const good = '{"at":1764000000.123,"topic":"water/juniper/a","payload":"[{\\"n\\":\\"level\\",\\"v\\":1.25}]"}'
    fc.assert(
      fc.property(fc.nat(good.length - 1), fc.nat(2), fc.string({ maxLength: 2 }), (at, cut, put) => {
        const line = good.slice(0, at) + put + good.slice(at + cut)
        const found = quick(line)
        if (found !== null) expect(plain(found)).toEqual(plain(parseCaptureLine(line)))
      }),
      { numRuns: 3_000 },
    )
  })

  it('is taken when it is as captures are written', () => {
    const arrival = {
      at: 1_764_000_000_123,
      topic: 'water/juniper/a',
      payload: encoder.encode('[{"v":"ü\\n"}]'),
      retain: false,
    }
    const found = quick(captureLine({ ...arrival, payload: encoder.encode('[{"v":"ü"}]') }).trimEnd())
    expect(found).not.toBeNull()
    expect(found?.at).toBe(arrival.at)
    expect(Buffer.from(found?.payload ?? []).toString()).toBe('[{"v":"ü"}]')
  })

  it('is left alone when it says more, or says it in another way', () => {
    expect(quick('{"at":1764000000,"topic":"a","payload":"1","retain":true}')).toBeNull()
    expect(quick('{"at":1764000000,"topic":"a","payload64":"MQ=="}')).toBeNull()
    expect(quick('{"topic":"a","at":1764000000,"payload":"1"}')).toBeNull()
    expect(quick('{"at":1764000000,"topic":"a","payload":"1"} ')).toBeNull()
    expect(quick('{"at":1764000000123,"topic":"a","payload":"1"}')).toBeNull()
  })
})
