/** The pressure pump of the house, and the moisture of the air. */
import { describe, expect, test } from 'vitest'
import { type Effects, NO_EFFECTS } from '../../simulators/effects.js'
import { HOUSE, House } from '../../simulators/house.js'
import { planOf } from '../../simulators/plan.js'
import { between, days, hours, median, START, watch } from './watch.js'

type Run = { readonly from: number; readonly seconds: number }

/** Runs of the pump in so many seconds of one and the same draw. */
function runs(seconds: number, wantedLMin: number, faults: Partial<Effects> = {}): readonly Run[] {
  const house = new House(planOf('juniper'), 1)
  const found: Run[] = []
  let from = Number.NaN
  for (let s = 0; s < seconds; s++) {
    house.second(s * 1_000, wantedLMin, 26, 24, 1, { ...NO_EFFECTS, ...faults })
    if (house.on && Number.isNaN(from)) from = s
    if (house.on || Number.isNaN(from)) continue
    found.push({ from, seconds: s - from })
    from = Number.NaN
  }
  return found
}

describe('the pressure pump of a house', () => {
  test('gives between its marks what Boyle’s law says that the accumulator holds', () => {
    // p·V is constant at one temperature: the air takes up V0·p0/p, absolute pressures.
    const airL = (pa: number) => (20 * (HOUSE.chargePa + 81_000)) / (pa + 81_000)
    const drawdownL = airL(138_000) - airL(276_000)
    expect(drawdownL).toBeGreaterThan(7)
    const [, first, second] = runs(4 * 3_600, 1)
    if (first === undefined || second === undefined) throw new Error('no two runs')
    const restS = second.from - first.from - first.seconds
    expect(restS).toBeGreaterThan(drawdownL * 60 - 5)
    expect(restS).toBeLessThan(drawdownL * 60 + 5)
    expect(first.seconds).toBeGreaterThan(35)
  })

  test('starts when nobody draws only where water goes another way', () => {
    expect(runs(86_400, 0)).toHaveLength(0)
    const leaks = runs(86_400, 0, { houseLeakLH: 11.2 })
    const every = leaks.slice(1).map((run, i) => run.from - (leaks[i]?.from ?? 0))
    expect(Math.min(...every)).toBeGreaterThan(38 * 60)
    expect(Math.max(...every)).toBeLessThan(42 * 60)
  })

  test('starts more than 20 times an hour for less than 20 s where the air has gone, during use alone', () => {
    // The first fills what the lost air has left.
    const [, ...waterlogged] = runs(3_600, 4, { houseAirShare: 0.12 })
    expect(waterlogged.length).toBeGreaterThan(20)
    expect(Math.max(...waterlogged.map(({ seconds }) => seconds))).toBeLessThan(20)
    expect(runs(3_600, 0, { houseAirShare: 0.12 })).toHaveLength(1)
  })
})

test('the humidity falls by day and rises by night, for the dew point keeps while the air swings', () => {
  const watched = watch({ site: 'juniper', days: 6 })
  const humidity = watched.signals.get('humidity') ?? []
  expect(humidity).toHaveLength(6 * 1_440)
  expect(humidity.every(({ value }) => value > 3 && value <= 100)).toBe(true)
  const medianAt = (hour: number) =>
    median(
      [0, 1, 2, 3, 4, 5].flatMap((day) =>
        between(watched, 'humidity', START + days(day) + hours(hour), START + days(day) + hours(hour + 1)),
      ),
    )
  expect(medianAt(4)).toBeGreaterThan(medianAt(15) + 10)
})
