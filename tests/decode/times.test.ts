import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createDecoder } from '../../src/decode/decoder.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { AT, arrivalOf, fromTank, reasons, siteOf, times, values } from './site.js'

const level = (fields: object) => ({ n: 'tank-level', u: 'm', v: 1.2, ...fields })
const seconds = (iso: string) => Date.parse(iso) / 1000

describe('a board with a good clock', () => {
  it('is believed to the millisecond', () => {
    const decoded = fromTank([level({ t: AT / 1000 - 59.999 })])
    expect(times(decoded)).toEqual([AT - 59_999])
    expect(decoded.clockSuspect).toBe(false)
  })

  it('may be a little ahead, up to the limit and no further', () => {
    const ahead = LIMITS.aheadMaxMs / 1000
    expect(times(fromTank([level({ t: AT / 1000 + ahead })]))).toEqual([AT + LIMITS.aheadMaxMs])
    expect(reasons(fromTank([level({ t: AT / 1000 + ahead + 1 })]))).toEqual(['future'])
  })

  it('may bring a backlog, up to the oldest that is kept and no further', () => {
    const oldest = LIMITS.ageMaxMs / 1000
    expect(times(fromTank([level({ t: AT / 1000 - oldest })]))).toEqual([AT - LIMITS.ageMaxMs])
    expect(reasons(fromTank([level({ t: AT / 1000 - oldest - 1 })]))).toEqual(['too-old'])
  })

  it.each([
    ['three hours ahead', 3 * HOUR, 'future'],
    ['200 days ahead', 200 * DAY, 'future'],
    ['a year behind', -365 * DAY, 'too-old'],
  ])('that is %s is refused, as its stamp is sensible but wrong', (_what, byMs, reason) => {
    const decoded = fromTank([level({ t: (AT + byMs) / 1000 })])
    expect(reasons(decoded)).toEqual([reason])
    expect(values(decoded)).toEqual([])
    expect(decoded.clockSuspect).toBe(false)
  })

  it('that is eight days behind is taken at its word: it cannot be told from a backlog', () => {
    expect(times(fromTank([level({ t: (AT - 8 * DAY) / 1000 })]))).toEqual([AT - 8 * DAY])
  })

  it('has a refused time counted once, even where the value is a failed sensor’s', () => {
    const decoded = fromTank([level({ v: 4095, t: (AT + HOUR) / 1000 })])
    expect(reasons(decoded)).toEqual(['future'])
    expect(values(decoded)).toEqual([])
  })
})

describe('a board without a clock', () => {
  it('gives no time, or zero: measured now', () => {
    expect(times(fromTank([level({}), level({ t: 0 })]))).toEqual([AT, AT])
  })

  it('counts back from now', () => {
    const decoded = fromTank([level({ t: -120 }), { bt: -60, ...level({ t: -0.5 }) }])
    expect(times(decoded)).toEqual([AT - 120_000, AT - 60_500])
    expect(decoded.clockSuspect).toBe(false)
  })

  it('cannot count back further than is kept', () => {
    expect(reasons(fromTank([level({ t: -61 * 86_400 })]))).toEqual(['too-old'])
  })

  it('that sends seconds since its start has them taken as spacing before the moment of receipt', () => {
    const decoded = fromTank([level({ t: 86_000 }), level({ t: 86_010 }), level({ t: 86_030 })])
    expect(times(decoded)).toEqual([AT - 30_000, AT - 20_000, AT])
    expect(decoded.clockSuspect).toBe(true)
  })

  it('loses nothing when its counter of milliseconds starts anew after 49.7 days', () => {
    for (const t of [4_294_960, 900]) {
      const decoded = fromTank([level({ t })])
      expect(times(decoded)).toEqual([AT])
      expect(decoded.clockSuspect).toBe(true)
    }
  })
})

describe('a clock that was never set', () => {
  it.each([
    ['1978, the first absolute time there is', '1978-07-04T21:24:16Z'],
    ['1980, where satellite time begins', '1980-01-06T00:00:00Z'],
    ['2000, where clock chips begin', '2000-01-01T00:03:00Z'],
    ['2019', '2019-12-31T23:59:59Z'],
    ['2036, an empty SNTP answer', '2036-02-07T06:28:16Z'],
    ['2036 two hours on', '2036-02-07T08:29:15Z'],
    ['2036 in a time zone west of Greenwich', '2036-02-06T22:28:16Z'],
    ['2038, the end of a signed 32-bit clock', '2038-01-19T03:14:07Z'],
    ['2106, the end of an unsigned one', '2106-02-07T06:28:15Z'],
  ])('%s: the value is kept at the moment of receipt, and the clock is suspect', (_what, iso) => {
    const decoded = fromTank([level({ t: seconds(iso) })])
    expect(reasons(decoded)).toEqual([])
    expect(values(decoded)).toEqual([1.2])
    expect(times(decoded)).toEqual([AT])
    expect(decoded.clockSuspect).toBe(true)
  })

  it('stands where the numbers of common practice say', () => {
    expect(seconds('2036-02-07T06:28:16Z')).toBe(2_085_978_496)
    expect(seconds('2038-01-19T03:14:07Z')).toBe(2 ** 31 - 1)
    expect(seconds('2106-02-07T06:28:15Z')).toBe(2 ** 32 - 1)
  })

  it('between those instants a stamp is an ordinary wrong one', () => {
    for (const iso of [
      '2030-01-01T00:00:00Z',
      '2037-12-31T00:00:00Z',
      '2050-01-01T00:00:00Z',
      '2110-01-01T00:00:00Z',
    ]) {
      expect(reasons(fromTank([level({ t: seconds(iso) })]))).toEqual(['future'])
    }
  })

  it('keeps the spacing of a pack, the newest being now, in any order', () => {
    const base = seconds('2000-01-01T00:00:00Z')
    const decoded = fromTank([{ bt: base, ...level({ t: 60 }) }, level({ t: 0 }), level({ t: 90 })])
    expect(times(decoded)).toEqual([AT - 30_000, AT - 90_000, AT])
  })

  it('counts the newest stamp of the pack even where that record is refused', () => {
    const base = 2_085_978_496
    const decoded = fromTank([
      { bt: base, ...level({ t: 0 }) },
      { n: 'nobody', v: 1, t: 10 },
    ])
    expect(times(decoded)).toEqual([AT - 10_000])
    expect(reasons(decoded)).toEqual(['unknown-name'])
  })

  it('leaves records with good stamps in the same pack where they are', () => {
    const decoded = fromTank([level({ t: 946_684_800 }), level({ t: AT / 1000 - 5 })])
    expect(times(decoded)).toEqual([AT, AT - 5000])
    expect(decoded.clockSuspect).toBe(true)
  })

  it('keeps each clock’s own spacing where a pack mixes two', () => {
    const decoded = fromTank([
      level({ t: 946_684_800 }),
      level({ t: 946_684_810 }),
      level({ t: 4_294_967_295 }),
      level({ t: 4_294_967_300 }),
    ])
    expect(times(decoded)).toEqual([AT - 10_000, AT, AT - 5000, AT])
  })

  it('whose spacing is longer than anything is kept loses the old ones, and they are counted', () => {
    const decoded = fromTank([level({ t: 946_684_800 }), level({ v: 1.3, t: 1_262_304_000 })])
    expect(values(decoded)).toEqual([1.3])
    expect(times(decoded)).toEqual([AT])
    expect(reasons(decoded)).toEqual(['too-old'])
  })

  it('still lets a failed sensor be seen', () => {
    const decoded = fromTank([{ n: 'air-temperature', u: 'Cel', v: -127, t: 946_684_800 }])
    expect(reasons(decoded)).toEqual(['sentinel'])
    expect(values(decoded)).toEqual([Number.NaN])
    expect(times(decoded)).toEqual([AT])
  })

  it('is right again in the years where those stamps are true', () => {
    const at = 2_085_978_496_000 + 5000
    const decoded = fromTank([level({ t: 2_085_978_496 })], at)
    expect(times(decoded)).toEqual([2_085_978_496_000])
    expect(decoded.clockSuspect).toBe(false)
  })

  it('nothing is refused and all spacing kept for any pack of a clock that started in 2000', () => {
    const spans = fc.array(fc.integer({ min: 0, max: 50 * 86_400 }), { minLength: 1, maxLength: 20 })
    fc.assert(
      fc.property(spans, (offsets) => {
        const decoded = fromTank(offsets.map((offset) => level({ t: 946_684_800 + offset })))
        const newest = Math.max(...offsets)
        expect(times(decoded)).toEqual(offsets.map((offset) => AT - (newest - offset) * 1000))
      }),
    )
  })
})

describe('a time that cannot be read', () => {
  it.each([null, 'NaN'])('%s: the value is kept at the moment of receipt', (t) => {
    const decoded = fromTank(`[{"n":"tank-level","v":1.2,"t":${t}}]`)
    expect(times(decoded)).toEqual([AT])
    expect(decoded.clockSuspect).toBe(true)
  })
})

describe('a message that a broker had kept', () => {
  const decoder = createDecoder([siteOf()])
  const kept = (fields: object) => {
    const [decoded] = decoder.decode(arrivalOf('water/juniper/tank-board', [level(fields)], AT, true))
    if (decoded === undefined) throw new Error('expected one board')
    return decoded
  }

  it('is not taken for live data when it has no time of its own', () => {
    for (const fields of [{}, { t: -5 }, { t: 946_684_800 }, { t: null }]) {
      expect(reasons(kept(fields))).toEqual(['too-old'])
      expect(values(kept(fields))).toEqual([])
    }
  })

  it('is believed with its own time', () => {
    expect(times(kept({ t: (AT - 3 * MINUTE) / 1000 }))).toEqual([AT - 3 * MINUTE])
  })
})
