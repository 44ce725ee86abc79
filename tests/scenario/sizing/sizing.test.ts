/** Sizes against twenty true years; `main.ts` beside prints the whole table for twenty seeds. */
import { describe, expect, it } from 'vitest'
import { size } from '../../../src/infer/sizing/size.js'
import { sizingSite, trySeed, withinOneStep } from './try-seed.js'
import { storedHours, trueCourse, trueShortDays } from './truth.js'

const SEEDS = [1, 2, 3, 4, 5, 6]

describe('from ninety measured days', () => {
  const tried = SEEDS.map(trySeed)

  it('the true short days a year of five options lie in their 95 % interval', () => {
    const all = tried.flatMap((one) => one.five)
    expect(all).toHaveLength(SEEDS.length * 5)
    const outside = all.filter((one) => !one.inside)
    expect(outside.length).toBeLessThanOrEqual(0.1 * all.length)
    // Intervals that hold everything would be no answer: most end well below the worst of them.
    expect(all.some((one) => one.truth > 3)).toBe(true)
    expect(all.every((one) => one.option.shortDaysCi95[1] < 120)).toBe(true)
  })

  it('what is recommended is within one step of the smallest that truly meets the need', () => {
    expect(tried.map(withinOneStep).filter((near) => !near).length).toBeLessThanOrEqual(1)
  })

  it('more array or more battery is never short on more days, but by the chance of the draws', () => {
    for (const { result } of tried) {
      for (const one of result.options) {
        for (const other of result.options) {
          if (other.arrayW < one.arrayW || other.batteryAh < one.batteryAh) continue
          expect(other.shortDaysPerYear).toBeLessThanOrEqual(one.shortDaysPerYear + 1e-9)
        }
      }
    }
  })

  it('says which months no data covers, and that a full battery hid the sun', () => {
    const { basis, cautions } = tried[0]?.result ?? expect.fail('no result')
    expect(basis.usableDays).toBeGreaterThanOrEqual(88)
    expect(basis.measuredMonths).toEqual([1, 2, 12])
    expect(basis.uncoveredMonths).toEqual([4, 5, 6, 7, 8, 9, 10])
    expect(cautions.join(' ')).toMatch(/No data covers April to October/)
    expect(cautions.join(' ')).toMatch(/a full battery held the array back/)
  })
})

describe('with little data', () => {
  const course = trueCourse({ seed: 5, years: 1 })
  const ask = {
    site: sizingSite(),
    days: [],
    needL: null,
    shortDaysAllowed: 1,
    converterShare: 0.96,
    seed: 1,
    draws: 20,
  }

  it('under fourteen days it declines, and says how many there are', () => {
    const result = size({ ...ask, hours: storedHours(course, 10, 10) })
    expect(result.verdict).toBe('declined')
    expect(result.reason).toMatch(/9 usable days|10 usable days/)
    expect(result.options).toEqual([])
    expect(result.hand?.arrayW).toBeGreaterThan(50)
  })

  it('under thirty days it shows the range and recommends nothing', () => {
    const result = size({ ...ask, hours: storedHours(course, 10, 22) })
    expect(result.verdict).toBe('range')
    expect(result.reason).toMatch(/too little data/)
    expect(result.recommended).toBeNull()
    expect(result.options.length).toBeGreaterThan(10)
  })

  it('without any hour of the array it says what is missing', () => {
    expect(size({ ...ask, hours: [] }).reason).toMatch(/panel-voltage and panel-current/)
  })

  it('the same seed gives the same answer', () => {
    const hours = storedHours(course, 10, 40)
    expect(size({ ...ask, hours })).toEqual(size({ ...ask, hours }))
  })
})

describe('a need', () => {
  it('of twice the water doubles what the pump takes', () => {
    const hours = storedHours(trueCourse({ seed: 5, years: 1 }), 10, 40)
    const days = Array.from({ length: 30 }, (_, i) => ({
      date: `2001-01-${String(i + 1).padStart(2, '0')}`,
      start: i,
      end: i + 1,
      pumpedL: { value: 400, sd: 5 },
      usedL: { value: 400, sd: 5 },
      fills: 2,
      runS: 5000,
      pumpWh: { value: 150, sd: 2 },
      whPerL: null,
      batteryMinV: null,
      batteryMaxV: null,
      harvestWh: null,
      airMinC: null,
      airMaxC: null,
      covered: 1,
    }))
    const ask = { site: sizingSite(), hours, days, shortDaysAllowed: 1, converterShare: 0.96, seed: 1, draws: 10 }
    const usual = size({ ...ask, needL: 400 })
    const twice = size({ ...ask, needL: 800 })
    expect((twice.basis.pumpWhPerDay ?? 0) / (usual.basis.pumpWhPerDay ?? 1)).toBeCloseTo(2, 6)
    const present = (result: typeof usual): number => result.options.find((one) => one.present)?.shortDaysPerYear ?? -1
    expect(present(twice)).toBeGreaterThan(present(usual))
  })
})

describe('the truth itself', () => {
  it('has fewer short days with a larger supply', () => {
    const course = trueCourse({ seed: 3, years: 5 })
    const small = trueShortDays(course, { arrayW: 350, batteryAh: 100 })
    const large = trueShortDays(course, { arrayW: 700, batteryAh: 200 })
    expect(small).toBeGreaterThan(large)
  })
})
