/** The pressure pump of the house as samples each 10 s show it: starts, runs, evenness, pressure that is gone. */
import { describe, expect, it } from 'vitest'
import type { HouseFacts } from '../../src/model/facts-house.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import { Bench, benchSite, type Scene, T0 } from './support.js'

const BOTH = ['house-pump-current', 'house-pressure'] as const
type Run = readonly [from: Ms, to: Ms]

/** 4 A while it runs; the pressure climbs from 150 to 270 kPa in a run and falls evenly until the next. */
function scene(runs: readonly Run[], keys: readonly string[] = BOTH): Scene {
  const pressure = (t: Ms): number => {
    const at = runs.findIndex(([, to]) => t < to)
    const [from, to] = runs[at] ?? [Number.POSITIVE_INFINITY, 0]
    if (t >= from) return 150_000 + (120_000 * (t - from)) / (to - from)
    const before = runs[(at < 0 ? runs.length : at) - 1]
    if (before === undefined) return 270_000
    const until = Number.isFinite(from) ? from : before[1] + 10 * HOUR
    return 270_000 - (120_000 * (t - before[1])) / (until - before[1])
  }
  const current = (t: Ms): number => (runs.some(([from, to]) => t >= from && t < to) ? 4 : 0.03)
  return {
    ...(keys.includes('house-pump-current') ? { 'house-pump-current': current } : {}),
    ...(keys.includes('house-pressure') ? { 'house-pressure': pressure } : {}),
  }
}

function every(pauseS: number, runS: number, count: number, from: Ms = T0 + MINUTE): Run[] {
  return Array.from({ length: count }, (_, i) => {
    const start = from + i * pauseS * SECOND
    return [start, start + runS * SECOND]
  })
}

function seen(
  runs: readonly Run[],
  to: Ms,
  keys: readonly ('house-pump-current' | 'house-pressure')[] = BOTH,
): HouseFacts {
  return new Bench(benchSite(undefined, keys)).play(scene(runs, keys), T0, to).looked.house
}

describe('starts and runs', () => {
  it.each([
    ['by its current', ['house-pump-current']],
    ['by its pressure', ['house-pressure']],
    ['by both', BOTH],
  ] as const)('are counted %s, the runs within a sampling interval', (_, keys) => {
    const facts = seen(every(150, 45, 10), T0 + 26 * MINUTE, keys)
    expect(facts.startsIn30Min).toBe(10)
    expect(facts.meanRunS).toBeGreaterThan(35)
    expect(facts.meanRunS).toBeLessThan(55)
    expect(facts.pauseS).toBeCloseTo(150, 0)
  })

  it('that fall between two samples of the current are seen by the pressure that they leave', () => {
    // 4 s long, between the samples at :00 and :10.
    const runs = every(120, 4, 9, T0 + MINUTE + 3 * SECOND)
    expect(seen(runs, T0 + 20 * MINUTE, ['house-pump-current']).startsIn30Min).toBe(0)
    // The pressure was not yet seen to fall before the first.
    expect(seen(runs, T0 + 20 * MINUTE).startsIn30Min).toBe(8)
  })

  it('are not made up for the time of a gap in the samples', () => {
    const bench = new Bench(benchSite(undefined, BOTH))
    const runs = every(150, 45, 30)
    bench.play(scene(runs), T0, T0 + 20 * MINUTE).play(scene(runs), T0 + 50 * MINUTE, T0 + 55 * MINUTE)
    expect(bench.looked.house.startsIn30Min).toBeLessThanOrEqual(3)
    expect(bench.looked.house.regular).toBeNull()
  })

  it('say nothing where the site has no such pump, and are not known when its board is silent', () => {
    expect(new Bench(benchSite()).play({ 'tank-level': () => 0.6 }, T0, T0 + HOUR).looked.house.known).toBe(false)
    const bench = new Bench(benchSite(undefined, BOTH)).play(scene(every(150, 45, 5)), T0, T0 + 15 * MINUTE)
    bench.play({ 'tank-level': () => 0.6 }, T0 + 15 * MINUTE, T0 + 30 * MINUTE)
    expect(bench.looked.house).toMatchObject({ known: false, running: null, runningSince: null })
  })
})

describe('starts like clockwork', () => {
  it('are found at the sixth, with their pause, whatever the pause', () => {
    for (const [pauseS, runS] of [
      [2_400, 40],
      [420, 40],
      [150, 20],
    ] as const) {
      const fifth = T0 + MINUTE + (4 * pauseS + 60) * SECOND
      expect(seen(every(pauseS, runS, 5), fifth).regular).toBeNull()
      const sixth = T0 + MINUTE + (5 * pauseS + 60) * SECOND
      const facts = seen(every(pauseS, runS, 6), sixth)
      expect(facts.regular).toMatchObject({ count: 6 })
      expect(Math.abs((facts.regular?.intervalS ?? 0) - pauseS)).toBeLessThan(5)
    }
  })

  it('are not a shower or a hose, whose runs take a large share of the time', () => {
    expect(seen(every(160, 90, 12), T0 + 40 * MINUTE).regular).toBeNull()
  })

  it('are not people, whose draws come unevenly', () => {
    const gaps = [310, 1_900, 95, 700, 2_600, 260, 1_100, 450, 3_000, 150]
    let at = T0 + MINUTE
    const runs = gaps.map((gapS): Run => {
      at += gapS * SECOND
      return [at, at + 45 * SECOND]
    })
    expect(seen(runs, at + 10 * MINUTE).regular).toBeNull()
  })

  it('go on being so through a draw, and are over when the pressure has held for more than two pauses', () => {
    const bench = new Bench(benchSite(undefined, BOTH))
    const alike = every(600, 40, 7)
    const draw: Run[] = [
      [T0 + 65 * MINUTE, T0 + 67 * MINUTE],
      [T0 + 68 * MINUTE, T0 + 69 * MINUTE],
    ]
    bench.play(scene([...alike, ...draw]), T0, T0 + 75 * MINUTE)
    expect(bench.looked.house.regular).not.toBeNull()
    bench.play(scene([...alike, ...draw]), T0 + 75 * MINUTE, T0 + 100 * MINUTE)
    expect(bench.looked.house.regular).toBeNull()
  })
})

describe('what is usual of the pump', () => {
  const days = (count: number): Run[] =>
    Array.from({ length: count }, (_, day) =>
      [0, 170, 340, 3_000, 9_000, 9_200, 20_000, 30_000].map((s): Run => {
        const from = T0 + day * DAY + 6 * HOUR + s * SECOND
        return [from, from + (45 + (s % 20)) * SECOND]
      }),
    ).flat()

  it('is learned from three lived days, and put aside by a new baseline', () => {
    const bench = new Bench(benchSite(undefined, BOTH)).play(scene(days(2)), T0, T0 + 2 * DAY + MINUTE)
    expect(bench.looked.house).toMatchObject({ usualRunS: null, days: 2 })
    bench.play(scene(days(3)), T0 + 2 * DAY + MINUTE, T0 + 3 * DAY + MINUTE)
    const { house } = bench.looked
    expect(house.days).toBe(3)
    expect(house.usualRunS).toBeGreaterThan(40)
    expect(house.usualRunS).toBeLessThan(60)
    expect(house.usualA).toBeCloseTo(4, 1)
    expect(house.usualBusyHour).toBeGreaterThanOrEqual(3)
    expect(house.usualHighPa).toBeGreaterThan(240_000)
    bench.engine.rebase(bench.state, T0 + 3 * DAY + MINUTE)
    bench.advance(T0 + 3 * DAY + 2 * MINUTE)
    expect(bench.looked.house).toMatchObject({ usualRunS: null, days: 0 })
  })

  it('is not learned from a day of trouble', () => {
    const runs = days(3)
    const trouble = every(300, 30, 100, T0 + 2 * DAY + 10 * HOUR)
    const bench = new Bench(benchSite(undefined, BOTH)).play(
      scene([...runs.filter(([from]) => from < T0 + 2 * DAY), ...trouble]),
      T0,
      T0 + 3 * DAY + MINUTE,
    )
    expect(bench.looked.house.days).toBe(2)
  })

  it('tells the pressure that has gone or stands too high since when', () => {
    const bench = new Bench(benchSite(undefined, BOTH)).play(scene(days(3)), T0, T0 + 3 * DAY + MINUTE)
    const from = T0 + 3 * DAY + MINUTE
    bench.play({ 'house-pump-current': () => 2, 'house-pressure': () => 15_000 }, from, from + 12 * MINUTE)
    expect(bench.looked.house).toMatchObject({ running: true, lowSince: from, highSince: null })
    const then = from + 12 * MINUTE
    bench.play({ 'house-pump-current': () => 5, 'house-pressure': () => 450_000 }, then, then + 12 * MINUTE)
    expect(bench.looked.house).toMatchObject({ running: true, lowSince: null, highSince: then })
  })
})
