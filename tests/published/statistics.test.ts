/**
 * Sources, beside each check: NIST Statistical Reference Datasets (StRD), certified values of the univariate summary
 * statistics and linear regression sets, National Institute of Standards and Technology; the data of the sets retyped
 * from copies of its files, the certified values read there. R Core Team, R documentation of stats::mad. Hyndman & Fan
 * (1996), Sample Quantiles in Statistical Packages, definition 7, by way of the simple-statistics library.
 */
import fc from 'fast-check'
import * as reference from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import {
  fitLine,
  MAD_TO_SD,
  meanAndSd,
  median,
  medianAbsoluteDeviation,
  quantile,
  quantileSorted,
} from '../../src/infer/stats.js'
import { MAVRO, MICHELSO, NORRIS } from './strd.js'

/** A first value, then two that take turns 500 times: the form of NumAcc2, 3 and 4. */
function turns(first: number, low: number, high: number): number[] {
  return [first, ...Array.from({ length: 1_000 }, (_, i) => (i % 2 === 0 ? low : high))]
}

/** Certified values of NIST StRD, univariate summary statistics; tolerance: the digits that doubles can keep. */
const UNIVARIATE = [
  { set: 'NumAcc1', values: [10_000_001, 10_000_003, 10_000_002], mean: 10_000_002, sd: 1, tolerance: 0 },
  { set: 'NumAcc2', values: turns(1.2, 1.1, 1.3), mean: 1.2, sd: 0.1, tolerance: 1e-13 },
  { set: 'NumAcc3', values: turns(1_000_000.2, 1_000_000.1, 1_000_000.3), mean: 1_000_000.2, sd: 0.1, tolerance: 1e-8 },
  {
    set: 'NumAcc4',
    values: turns(10_000_000.2, 10_000_000.1, 10_000_000.3),
    mean: 10_000_000.2,
    sd: 0.1,
    tolerance: 1e-8,
  },
  { set: 'Michelso', values: MICHELSO, mean: 299.8524, sd: 0.0790105478190518, tolerance: 1e-12 },
  { set: 'Mavro', values: MAVRO, mean: 2.001856, sd: 0.000429123454003053, tolerance: 1e-13 },
] as const

describe('mean and standard deviation against NIST StRD', () => {
  it.each(UNIVARIATE)('$set has its certified mean and standard deviation', ({ values, mean, sd, tolerance }) => {
    const found = meanAndSd(values)
    expect(Math.abs(found.mean - mean) / mean).toBeLessThanOrEqual(1e-14)
    expect(Math.abs(found.sd - sd)).toBeLessThanOrEqual(tolerance)
  })

  it('NumAcc4 is hard: the sum of squares less the square of the sum comes out wrong, and this does not', () => {
    // [CALC] that formula in doubles: a negative variance.
    const values = turns(10_000_000.2, 10_000_000.1, 10_000_000.3)
    const n = values.length
    const sum = values.reduce((a, b) => a + b, 0)
    const squares = values.reduce((a, b) => a + b * b, 0)
    expect((squares - (sum * sum) / n) / (n - 1)).toBeLessThan(0)
    expect(meanAndSd(values).sd).toBeCloseTo(0.1, 8)
  })

  it('agrees with the simple-statistics library on any values', () => {
    const values = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 2, maxLength: 60 })
    fc.assert(
      fc.property(values, (sample) => {
        const { mean, sd } = meanAndSd(sample)
        expect(Math.abs(mean - reference.mean(sample))).toBeLessThanOrEqual(1e-7)
        expect(Math.abs(sd - reference.sampleStandardDeviation(sample))).toBeLessThanOrEqual(1e-6)
      }),
    )
  })

  it('one value has a mean and no standard deviation', () => {
    expect(meanAndSd([4])).toEqual({ mean: 4, sd: Number.NaN })
  })
})

describe('the line through points against NIST StRD Norris (linear regression, 36 points)', () => {
  const fitted = fitLine(NORRIS.x, NORRIS.y)

  it.each([
    ['slope', fitted?.slope, 1.00211681802045],
    ['intercept', fitted?.intercept, -0.262323073774029],
    ['standard deviation of the slope', fitted?.slopeSd, 0.429796848199937e-3],
    ['standard deviation of the intercept', fitted?.interceptSd, 0.232818234301152],
    ['residual standard deviation', fitted?.residualSd, 0.884796396144373],
  ])('has the certified %s', (_, found, certified) => {
    expect(Math.abs((found ?? Number.NaN) / certified - 1)).toBeLessThanOrEqual(1e-9)
  })

  it('keeps its slope to nine digits when the x are times of our century in milliseconds', () => {
    const late = fitLine(
      NORRIS.x.map((x) => x + 1_777_878_000_000),
      NORRIS.y,
    )
    // The x themselves lose digits at that size (spacing of doubles 2.4e-4 there), the slope only what follows from it.
    expect(Math.abs((late?.slope ?? Number.NaN) / 1.00211681802045 - 1)).toBeLessThanOrEqual(1e-6)
  })

  it('agrees with the simple-statistics library on any points', () => {
    const point = fc.tuple(fc.integer({ min: -100, max: 100 }), fc.double({ min: -100, max: 100, noNaN: true }))
    fc.assert(
      fc.property(fc.array(point, { minLength: 2, maxLength: 40 }), (points) => {
        const found = fitLine(
          points.map(([x]) => x),
          points.map(([, y]) => y),
        )
        if (new Set(points.map(([x]) => x)).size < 2) {
          expect(found).toBeNull()
          return
        }
        const { m, b } = reference.linearRegression(points)
        expect(Math.abs((found?.slope ?? Number.NaN) - m)).toBeLessThanOrEqual(1e-6 * Math.max(1, Math.abs(m)))
        expect(Math.abs((found?.intercept ?? Number.NaN) - b)).toBeLessThanOrEqual(1e-5 * Math.max(1, Math.abs(b)))
      }),
    )
  })
})

describe('quantiles of type 7', () => {
  it('agree with the quantile definition on which R, NumPy and others rest, worked by hand', () => {
    // [CALC] h = (n − 1) p: of 1…10 the first quartile is 3.25, the ninth decile 9.1.
    const values = [10, 1, 9, 2, 8, 3, 7, 4, 6, 5]
    expect(quantile(values, 0.25)).toBeCloseTo(3.25, 12)
    expect(quantile(values, 0.9)).toBeCloseTo(9.1, 12)
    expect(quantile(values, 0)).toBe(1)
    expect(quantile(values, 1)).toBe(10)
  })

  it('the median agrees with the simple-statistics library, whatever the values and their order', () => {
    const values = fc.array(fc.double({ min: -1e9, max: 1e9, noNaN: true }), { minLength: 1, maxLength: 80 })
    fc.assert(
      fc.property(values, (sample) => {
        expect(median(sample)).toBeCloseTo(reference.median(sample), 5)
        expect(medianAbsoluteDeviation(sample)).toBeCloseTo(reference.medianAbsoluteDeviation(sample), 5)
      }),
    )
  })

  it('lie between least and greatest and never fall as p grows', () => {
    const values = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 1, maxLength: 40 })
    const share = fc.double({ min: 0, max: 1, noNaN: true })
    fc.assert(
      fc.property(values, share, share, (sample, a, b) => {
        const sorted = [...sample].sort((x, y) => x - y)
        const low = quantileSorted(sorted, Math.min(a, b))
        const high = quantileSorted(sorted, Math.max(a, b))
        expect(low).toBeGreaterThanOrEqual(Math.min(...sample))
        expect(high).toBeLessThanOrEqual(Math.max(...sample))
        expect(high - low).toBeGreaterThanOrEqual(-1e-9)
      }),
    )
  })

  it('of no values are an error, not a number', () => {
    expect(() => quantileSorted([], 0.5)).toThrow(RangeError)
  })
})

describe('median absolute deviation, values of the documentation of R (stats::mad)', () => {
  it('of 1…9 is 2, and stays 2 when the last is 100: one wild value does not move it', () => {
    expect(medianAbsoluteDeviation([1, 2, 3, 4, 5, 6, 7, 8, 9])).toBe(2)
    expect(medianAbsoluteDeviation([1, 2, 3, 4, 5, 6, 7, 8, 100])).toBe(2)
  })

  it('of 1…9, scaled to a normal sample, is 2.9652 as R prints it', () => {
    // R uses the constant 1.4826, rounded from 1/Φ⁻¹(3/4).
    expect(MAD_TO_SD * medianAbsoluteDeviation([1, 2, 3, 4, 5, 6, 7, 8, 9])).toBeCloseTo(2.9652, 4)
    expect(MAD_TO_SD).toBeCloseTo(1.4826, 4)
  })

  it('of a single value is 0; of 1 1 2 2 4 6 9 it is 1 about the median 2', () => {
    expect(medianAbsoluteDeviation([7])).toBe(0)
    expect(median([1, 1, 2, 2, 4, 6, 9])).toBe(2)
    expect(medianAbsoluteDeviation([1, 1, 2, 2, 4, 6, 9])).toBe(1)
  })

  it('the scale is 1/Φ⁻¹(3/4): between that many deviations lies half of a normal sample', () => {
    // [CALC] of the density by Simpson's rule: 2·∫₀^x φ = 1/2 at x = 1/1.482602218505602.
    const x = 1 / MAD_TO_SD
    const n = 1_000
    let sum = 0
    for (let k = 0; k <= n; k += 1) {
      const weight = k === 0 || k === n ? 1 : k % 2 === 1 ? 4 : 2
      sum += weight * Math.exp(-0.5 * ((x * k) / n) ** 2)
    }
    expect((2 * sum * x) / (3 * n) / Math.sqrt(2 * Math.PI)).toBeCloseTo(0.5, 12)
  })
})
