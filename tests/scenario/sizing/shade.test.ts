/** Shade recovered from sixty days with clouds and a full battery; dirt and snow told from it. */
import { describe, expect, it } from 'vitest'
import { cellIndex, learnShade, type Shade, stretchOf } from '../../../src/infer/energy/shade.js'
import { DAY, type Ms } from '../../../src/model/time.js'
import { shadeDays } from './shade.js'
import { ARRAY_W, LATITUDE, LONGITUDE } from './truth.js'

const ARRAY = {
  place: { latitudeDeg: LATITUDE, longitudeDeg: LONGITUDE, elevationM: 1850 },
  plane: { tiltDeg: 45, azimuthDeg: 180 },
  ratedW: ARRAY_W,
}
const DAYS = 60

/** What was learned of an hour of UTC over the sixty days, weighted by the clear sky. */
function learned(shade: Shade, start: Ms, hour: number): number {
  let sum = 0
  let weight = 0
  for (let day = 0; day < DAYS; day += 1) {
    const index = cellIndex(stretchOf(start + day * DAY), hour)
    const clear = shade.clear[index] ?? 0
    sum += clear * (shade.cells[index]?.transmission ?? 0)
    weight += clear
  }
  return sum / weight
}

function misses(
  seed: number,
  month: number,
): { readonly hours: number; readonly held: number; readonly far: readonly string[] } {
  const start = Date.UTC(2026, month, 5)
  const { hours, transmission } = shadeDays(seed, start, DAYS)
  const held = hours.filter((hour) => (hour.heldShare ?? 0) > 0.5).length
  const shade = learnShade(hours, ARRAY, start)
  const sunny = transmission.flatMap((truth, hour) => (Number.isNaN(truth) ? [] : [{ truth, hour }]))
  const far = sunny
    .map(({ truth, hour }) => ({ hour, truth, found: learned(shade, start, hour) }))
    .filter(({ truth, found }) => Math.abs(found - truth) > 0.1)
    .map(
      ({ hour, truth, found }) =>
        `seed ${seed}, month ${month + 1}, ${hour} h: ${found.toFixed(2)} for ${truth.toFixed(2)}`,
    )
  return { hours: sunny.length, held, far }
}

describe('sixty days behind a ridge and a tree, with clouds and a battery that is often full', () => {
  it.each([
    [1, 0],
    [2, 0],
    [3, 0],
    [3, 9],
    [5, 9],
  ])('give back the transmission of every hour within 0.1 (seed %d, month index %d)', (seed, month) => {
    const { hours, held, far } = misses(seed, month)
    expect(hours).toBeGreaterThan(7)
    expect(held).toBeGreaterThan(20)
    expect(far).toEqual([])
  })

  it('give it back in six of seven hours through the year, where in summer the sun is held back most', () => {
    const all = [2, 4, 5, 7, 10].map((month) => misses(7, month))
    const hours = all.reduce((sum, one) => sum + one.hours, 0)
    const far = all.flatMap((one) => one.far)
    expect(far.length, far.join('; ')).toBeLessThanOrEqual(hours / 7)
  })
})

describe('what lies on the panel', () => {
  it('is found as a spell over all hours, and is not taken for shade', () => {
    const start = Date.UTC(2026, 1, 5)
    const clean = learnShade(shadeDays(11, start, DAYS).hours, ARRAY, start)
    const dusty = learnShade(shadeDays(11, start, DAYS, { fromDay: 20, toDay: 45, share: 0.7 }).hours, ARRAY, start)
    const spell = dusty.spells.find((one) => one.kind === 'soiled' && one.to - one.from > 10 * DAY)
    expect(spell).toBeDefined()
    expect(Math.abs((spell?.share ?? 0) - 0.7)).toBeLessThan(0.1)
    expect(Math.abs((spell?.from ?? 0) - (start + 20 * DAY))).toBeLessThanOrEqual(5 * DAY)
    for (const hour of [17, 18, 19, 20]) {
      expect(Math.abs(learned(dusty, start, hour) - learned(clean, start, hour))).toBeLessThan(0.1)
    }
  })

  it('as snow does for days, in one step and gone again, is told from cloud', () => {
    const start = Date.UTC(2026, 0, 5)
    const shade = learnShade(shadeDays(4, start, DAYS, { fromDay: 30, toDay: 33, share: 0.03 }).hours, ARRAY, start)
    const spell = shade.spells.find((one) => one.kind === 'covered' && Math.abs(one.from - (start + 30 * DAY)) <= DAY)
    expect(spell).toBeDefined()
    expect(spell?.share ?? 1).toBeLessThan(0.15)
  })
})
