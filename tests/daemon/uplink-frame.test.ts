import { randomBytes } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { unpackArrival } from '../../src/daemon/uplink/feed.js'
import { type Frame, FrameError, packFrame, unpackFrame } from '../../src/daemon/uplink/frame.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { settingsOf } from '../scenario/detection/run-case.js'

const AT = Date.UTC(2026, 5, 3, 17)
const TODAY = Math.floor(AT / DAY)

function frame(changes: Partial<Frame> = {}): Frame {
  const t = Float64Array.from([AT - 20_000, AT - 10_000, AT])
  const columns = [{ key: 'tank-level', day: TODAY, t, v: Float64Array.from([1.012, 1.013, Number.NaN]) }]
  return { site: 'juniper', at: AT, everyS: 300, columns, ...changes }
}

function arrival(payload: Uint8Array) {
  return { at: AT + MINUTE, topic: 'water/juniper/uplink', payload, retain: false }
}

describe('an uplink frame', () => {
  it('comes back as it was, bit for bit', () => {
    const value = fc.oneof(
      fc.double({ noNaN: false }),
      fc.integer({ min: -5000, max: 5000 }).map((n) => n / 1000),
      fc.constantFrom(0, 1, -0, Number.NaN),
    )
    const column = fc.record({
      key: fc.constantFrom('tank-level', 'pump-current', 'line-temperature.kitchen'),
      day: fc.integer({ min: 15_000, max: 30_000 }),
      points: fc.uniqueArray(fc.tuple(fc.integer({ min: 0, max: DAY - 1 }), value), {
        minLength: 1,
        maxLength: 60,
        selector: ([t]) => t,
      }),
    })
    fc.assert(
      fc.property(fc.array(column, { maxLength: 5 }), fc.integer({ min: 0, max: 4e12 }), (columns, at) => {
        const made: Frame = {
          site: 'juniper',
          at,
          everyS: 300,
          columns: columns.map(({ key, day, points }) => {
            const sorted = [...points].sort((a, b) => a[0] - b[0])
            return {
              key,
              day,
              t: Float64Array.from(sorted, ([t]) => day * DAY + t),
              v: Float64Array.from(sorted, ([, v]) => v),
            }
          }),
        }
        expect(unpackFrame(packFrame(made))).toEqual(made)
      }),
      { numRuns: 300 },
    )
  })

  it('that is none, is cut short or was changed on its way is told from a good one', () => {
    const good = packFrame(frame())
    for (let cut = 0; cut < good.length; cut++) expect(() => unpackFrame(good.subarray(0, cut))).toThrow(FrameError)
    for (let place = 0; place < good.length; place++) {
      const bad = Buffer.from(good)
      bad[place] = (bad[place] ?? 0) ^ 0x41
      expect(() => unpackFrame(bad)).toThrow(FrameError)
    }
    for (let i = 0; i < 500; i++) expect(() => unpackFrame(randomBytes(1 + (i % 200)))).toThrow(FrameError)
  })

  it('of another version says what to do', () => {
    const other = packFrame(frame())
    other[3] = 2
    expect(() => unpackFrame(other)).toThrow('found form 2, expected 1: bring both ends to one version')
  })
})

describe('in town', () => {
  const juniper = settingsOf('juniper')

  it('a frame is what the boards of the place said, a failed sensor too', () => {
    const { decoded, fed } = unpackArrival(juniper, arrival(packFrame(frame())))
    expect(decoded.refusals).toEqual([])
    expect(decoded.samples.map(({ key, t, value }) => [key, t, value])).toEqual([
      ['tank-level', AT - 20_000, 1.012],
      ['tank-level', AT - 10_000, 1.013],
      ['tank-level', AT, Number.NaN],
    ])
    expect(fed).toEqual({ at: AT, heardAt: AT + MINUTE, everyS: 300 })
  })

  it.each<[string, Uint8Array, string, RegExp]>([
    ['noise', Buffer.from('[{"n":"tank-level","v":1}]'), 'not-senml', /no uplink frame/],
    ['another place', packFrame(frame({ site: 'fern' })), 'unknown-name', /site "fern"/],
    ['a clock far ahead', packFrame(frame({ at: AT + HOUR })), 'future', /clock of the place/],
    ['too many bytes', Buffer.alloc(LIMITS.payloadBytesMax + 1), 'too-large', /at most/],
  ])('%s is refused, counted and shown', (_, payload, reason, words) => {
    const { decoded, fed } = unpackArrival(juniper, arrival(payload))
    expect(fed).toBeNull()
    expect(decoded.samples).toEqual([])
    expect(decoded.refusals.map((refusal) => [refusal.reason, refusal.board])).toEqual([[reason, 'uplink']])
    expect(decoded.refusals[0]?.example).toMatch(words)
  })

  it('a reading that cannot be believed does not lose the others', () => {
    const day = TODAY
    const columns = [
      { key: 'tank-level', day, t: Float64Array.from([AT - 2, AT - 1, AT]), v: Float64Array.from([1, 99, 1.001]) },
      { key: 'no-such-signal', day, t: Float64Array.from([AT]), v: Float64Array.from([1]) },
      { key: 'pump-current', day: day - 100, t: Float64Array.from([(day - 100) * DAY]), v: Float64Array.from([3]) },
      { key: 'battery-voltage', day: day + 1, t: Float64Array.from([(day + 1) * DAY]), v: Float64Array.from([26]) },
    ]
    const { decoded } = unpackArrival(juniper, arrival(packFrame(frame({ columns }))))
    expect(decoded.samples.map(({ value }) => value)).toEqual([1, 1.001])
    expect(decoded.refusals.map(({ reason }) => reason).sort()).toEqual([
      'future',
      'out-of-range',
      'too-old',
      'unknown-name',
    ])
  })
})
