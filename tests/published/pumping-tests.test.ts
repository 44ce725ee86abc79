/**
 * The lines that the engine lays through scattered points, on drawdown that was measured by others: two well-known
 * pumping tests, their numbers retyped from the data of the library ttim (MIT; Delft University of Technology).
 *
 * - Gridley, Illinois, 1953: Walton, W. C. (1962), Selected analytical methods for well and aquifer evaluation, Illinois
 *   State Water Survey Bulletin 49; also Fetter, Applied Hydrogeology. 220 gpm; observed 824 ft away.
 * - Oude Korendijk: Kruseman & de Ridder, Analysis and Evaluation of Pumping Test Data. 788 m³/d; observed 30 m away.
 *
 * Cooper & Jacob (1946): late in a test drawdown grows by Δs = 2.303·Q / (4π·T) in each decade of time.
 */
import { describe, expect, it } from 'vitest'
import { theilSen } from '../../src/infer/loss/slope.js'
import { fitLine } from '../../src/infer/stats.js'

const FT_M = 0.3048
const DAY_S = 86_400

/** Minutes, feet. */
const GRIDLEY: readonly (readonly [number, number])[] = [
  [3, 0.3],
  [5, 0.7],
  [8, 1.3],
  [12, 2.1],
  [20, 3.2],
  [24, 3.6],
  [30, 4.1],
  [38, 4.7],
  [47, 5.1],
  [50, 5.3],
  [60, 5.7],
  [70, 6.1],
  [80, 6.3],
  [90, 6.7],
  [100, 7],
  [130, 7.5],
  [160, 8.3],
  [200, 8.5],
  [260, 9.2],
  [320, 9.7],
  [380, 10.2],
  [500, 10.9],
]

/** Minutes, metres. */
const KORENDIJK: readonly (readonly [number, number])[] = [
  [1, 0.23],
  [1.4, 0.28],
  [1.9, 0.33],
  [2.33, 0.36],
  [2.8, 0.39],
  [3.36, 0.42],
  [4, 0.45],
  [5.35, 0.5],
  [6.8, 0.54],
  [8.3, 0.57],
  [8.7, 0.58],
  [10, 0.6],
]

/** Transmissivity, m²/s, for a discharge in m³/s and a slope in m per decade. */
function transmissivity(dischargeM3S: number, slopeM: number): number {
  return (Math.LN10 * dischargeM3S) / (4 * Math.PI * slopeM)
}

const decades = (points: readonly (readonly [number, number])[]): readonly number[] =>
  points.map(([minutes]) => Math.log10(minutes))

describe('drawdown at Gridley, from the third reading on', () => {
  const late = GRIDLEY.slice(2)
  const metres = late.map(([, feet]) => feet * FT_M)
  const discharge = 0.013888

  it('falls by 1.6422 m a decade by least squares: T = 1.55·10⁻³ m²/s', () => {
    // [CALC] with the same points; published for this choice of points: T 1.5·10⁻³ m²/s.
    const slope = fitLine(decades(late), metres)?.slope ?? Number.NaN
    expect(slope).toBeCloseTo(1.6422, 3)
    expect(transmissivity(discharge, slope)).toBeCloseTo(1.5496e-3, 6)
    expect(Math.abs(transmissivity(discharge, slope) / 1.5e-3 - 1)).toBeLessThan(0.05)
  })

  it('falls as fast by Theil–Sen, also when three readings were misread by metres', () => {
    const clean = theilSen(decades(late), metres)
    expect(Math.abs(transmissivity(discharge, clean?.slope ?? Number.NaN) / 1.5e-3 - 1)).toBeLessThan(0.05)
    const misread = metres.map((s, nth) => (nth % 7 === 5 ? s + 3 : s))
    const robust = theilSen(decades(late), misread)?.slope ?? Number.NaN
    const least = fitLine(decades(late), misread)?.slope ?? Number.NaN
    expect(Math.abs(robust / 1.6422 - 1)).toBeLessThan(0.1)
    expect(Math.abs(least / 1.6422 - 1)).toBeGreaterThan(Math.abs(robust / 1.6422 - 1))
  })
})

describe('drawdown at Oude Korendijk, 30 m away, in the first decade, before the aquifer leaks in', () => {
  it('gives the transmissivity of Thiem’s steady formula there, 370 m²/d as printed, within 8 %', () => {
    const early = KORENDIJK.filter(([minutes]) => minutes <= 10)
    const metres = early.map(([, s]) => s)
    for (const slope of [fitLine(decades(early), metres)?.slope, theilSen(decades(early), metres)?.slope]) {
      const perDay = transmissivity(788 / DAY_S, slope ?? Number.NaN) * DAY_S
      expect(Math.abs(perDay / 370 - 1)).toBeLessThan(0.08)
    }
  })
})
