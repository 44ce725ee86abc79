/** How often a drift is told that is none, and how soon one that is, over many made-up site-years. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { fitBaseline } from '../../../src/infer/trend/baseline.js'
import { meanRunLength } from '../../../src/infer/trend/cusum.js'
import { BLUNT, createDrift, designFor, seasonShare, SHARP, takeDeviation } from '../../../src/infer/trend/drift.js'
import { DAY } from '../../../src/model/time.js'
import { FillStream, type Stream } from './streams.js'

const YEAR = 365
/** The year's swing: 2 % up and down, as water table and temperature move. */
const season = (phase: number) => (t: number) => 0.02 * Math.sin((2 * Math.PI * t) / (YEAR * DAY) + phase)

/** Stories told in so many years: yield fallen or energy risen. */
function told(stream: Stream, years: number): number {
  const site = new FillStream(stream)
  let stories = 0
  let was = false
  while (site.t < years * YEAR * DAY) {
    const trend = site.fill()
    const is = trend.yield.moved < 0 || trend.energy.moved > 0
    if (is && !was) stories += 1
    was = is
  }
  return stories
}

describe('without any drift', () => {
  it.each([
    { sight: 'each-fill', everyDays: 1, sites: 120 },
    { sight: 'each-fill', everyDays: 0.33, sites: 30 },
    { sight: 'quiet-fills', everyDays: 1.3, sites: 120 },
  ] as const)(
    '$sight, a fill each $everyDays d: less than one story in 3 site-years',
    ({ sight, everyDays, sites }) => {
      const years = 3
      let stories = 0
      for (let seed = 1; seed <= sites; seed += 1)
        stories += told({ sight, everyDays, seed, change: season(seed) }, years)
      // The promise is one in 3 site-years; what is held to is one in 12.
      expect(stories / (sites * years)).toBeLessThan(1 / 12)
    },
  )

  it('the charts themselves, at normal noise of the size that they reckon with, would err less often than that', () => {
    expect(meanRunLength(SHARP.k, SHARP.h)).toBeGreaterThan(3 * YEAR * 4)
    expect(meanRunLength(BLUNT.k, BLUNT.h)).toBeGreaterThan(3 * YEAR * 4)
  })

  it('a pause of weeks with a season between is no step', () => {
    for (let seed = 1; seed <= 40; seed += 1) {
      const change = (t: number): number => (t > 100 * DAY ? -0.04 : 0)
      const site = new FillStream({ sight: 'each-fill', seed, change, pause: [60, 130] })
      while (site.t < 200 * DAY) expect(site.fill().yield.moved).toBe(0)
    }
  })
})

describe('a step of 10 % in yield', () => {
  it('is told within 5 fills where each fill shows the rate', () => {
    const late: number[] = []
    for (let seed = 1; seed <= 200; seed += 1) {
      const at = (20 + (seed % 60)) * DAY
      const site = new FillStream({ sight: 'each-fill', seed, change: (t) => (t >= at ? Math.log(0.9) : 0) })
      while (site.t < at) site.fill()
      let fills = 1
      while (site.trend.yield.moved === 0 && fills < 60) {
        site.fill()
        fills += 1
      }
      if (fills > 5) late.push(fills)
    }
    expect(late.length).toBeLessThanOrEqual(4)
  })

  it('is told with probes only too, within 30 fills, four times in five', () => {
    let found = 0
    for (let seed = 1; seed <= 200; seed += 1) {
      const at = 60 * DAY
      const site = new FillStream({ sight: 'quiet-fills', seed, change: (t) => (t >= at ? Math.log(0.9) : 0) })
      while (site.t < at) site.fill()
      site.fills(30)
      if (site.trend.yield.moved < 0) found += 1
    }
    expect(found / 200).toBeGreaterThan(0.8)
  })

  it('of 25 % is told with probes within 18 fills, nine times in ten', () => {
    let found = 0
    for (let seed = 1; seed <= 200; seed += 1) {
      const at = 60 * DAY
      const site = new FillStream({ sight: 'quiet-fills', seed, change: (t) => (t >= at ? Math.log(0.75) : 0) })
      while (site.t < at) site.fill()
      site.fills(18)
      if (site.trend.yield.moved < 0) found += 1
    }
    expect(found / 200).toBeGreaterThan(0.9)
  })

  it('has its beginning dated to the fill in which it began, or one beside it', () => {
    for (let seed = 1; seed <= 50; seed += 1) {
      const at = 40 * DAY
      const site = new FillStream({ sight: 'each-fill', seed, change: (t) => (t >= at ? Math.log(0.9) : 0) })
      while (site.trend.yield.moved === 0) site.fill()
      expect(Math.abs((site.trend.yield.since ?? 0) - at)).toBeLessThan(3.5 * DAY)
    }
  })

  it('is over within 6 fills of its mending', () => {
    for (let seed = 1; seed <= 50; seed += 1) {
      const [from, to] = [30 * DAY, 50 * DAY]
      const site = new FillStream({
        sight: 'each-fill',
        seed,
        change: (t) => (t >= from && t < to ? Math.log(0.9) : 0),
      })
      while (site.t < to) site.fill()
      expect(site.trend.yield.moved).toBe(-1)
      site.fills(6)
      expect([site.trend.yield.moved, site.trend.energy.moved]).toEqual([0, 0])
    }
  })
})

describe('the chart', () => {
  it('takes sharp figures where a fill is sure to 5 %, blunt ones where it is not', () => {
    expect(designFor(0.025)).toBe(SHARP)
    expect(designFor(0.09)).toBe(BLUNT)
  })

  it('no two odd fills are enough, however odd', () => {
    fc.assert(
      fc.property(fc.double({ min: -2, max: 2, noNaN: true }), fc.double({ min: -2, max: 2, noNaN: true }), (a, b) => {
        const drift = createDrift()
        takeDeviation(drift, 1, a, 0.025, 0)
        takeDeviation(drift, 2, b, 0.025, 0)
        expect(drift.moved).toBe(0)
      }),
    )
  })

  it('stays within its bounds whatever comes', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -3, max: 3, noNaN: true }), { maxLength: 80 }), (offs) => {
        const drift = createDrift()
        for (const [t, off] of offs.entries()) takeDeviation(drift, t, off, 0.03, 0.01)
        expect(Math.max(drift.up, drift.down)).toBeLessThanOrEqual(2 * SHARP.h)
        expect(Math.min(drift.up, drift.down)).toBeGreaterThanOrEqual(0)
        expect(Math.abs(drift.mean)).toBeLessThanOrEqual(0.12 + 1e-9)
        expect(drift.moved === 0).toBe(drift.since === null)
      }),
    )
  })

  it('leaves a part to the season that grows with the age of the baseline, to 4 %', () => {
    expect(seasonShare(-DAY)).toBe(0)
    expect(seasonShare(30 * DAY)).toBeCloseTo(0.01, 12)
    expect(seasonShare(400 * DAY)).toBeCloseTo(0.04, 12)
  })
})

describe('the baseline', () => {
  const point = (k: number, y: number, v = 0) => ({ t: k * DAY, y, w: -y, v, i: 1, sd: 0.02 })

  it('is not moved by one fill in four that is far off', () => {
    const base = fitBaseline(
      Array.from({ length: 12 }, (_, k) => point(k, k % 4 === 0 ? 0.6 : 1)),
      false,
    )
    expect(base?.y).toBeCloseTo(1, 9)
  })

  it('has a floor under its spread: a site that happened to be quiet is not hypersensitive', () => {
    const still = Array.from({ length: 10 }, (_, k) => point(k, 1))
    expect(fitBaseline(still, false)?.ySd).toBe(0.025)
    expect(fitBaseline(still, true)?.ySd).toBe(0.035)
  })

  it('follows the voltage as far as its fills show it, else as a displacement pump does', () => {
    const same = Array.from({ length: 12 }, (_, k) => point(k, 1))
    expect(fitBaseline(same, false)?.yPerV).toBeCloseTo(1, 9)
    // A pump whose yield goes with the square of the voltage, seen over a tenth of its range.
    const square = Array.from({ length: 24 }, (_, k) => point(k, 2 * 0.01 * (k - 12), 0.01 * (k - 12)))
    expect(fitBaseline(square, false)?.yPerV).toBeGreaterThan(1.6)
  })
})
