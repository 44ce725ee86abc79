/** CUSUM and EWMA against published worked examples; the source stands at each check. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { type Cusum, CUSUM_START, meanRunLength, nextCusum } from '../../src/infer/trend/cusum.js'
import { ewmaLimit, nextEwma } from '../../src/infer/trend/ewma.js'
import { seeded } from '../infer/trend/streams.js'

function cusums(values: readonly number[], target: number, slack: number, start: Cusum = CUSUM_START): Cusum[] {
  let sums = start
  return values.map((value) => {
    sums = nextCusum(sums, value, target, slack)
    return sums
  })
}

function close(found: readonly number[], expected: readonly number[], digits: number): void {
  expect(found.length).toBe(expected.length)
  for (const [k, value] of expected.entries()) expect(found[k], `value ${k + 1}`).toBeCloseTo(value, digits)
}

describe('two-sided CUSUM', () => {
  it('Montgomery & Runger, Applied Statistics and Probability for Engineers, Example 16-6, Table 16-8', () => {
    const x = [
      102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4,
      97.2, 101.0,
    ]
    const sums = cusums(x, 99, 1)
    const up = [2, 0, 0, 0, 2, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1]
    const down = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1, 2.3, 0, 0, 0.8, 0]
    close(
      sums.map((one) => one.up),
      up,
      9,
    )
    close(
      sums.map((one) => one.down),
      down,
      9,
    )
    expect(sums.every((one) => one.up < 10 && one.down < 10)).toBe(true)
  })

  it('NIST/SEMATECH e-Handbook 6.3.2.3 (data from memory of the page): first beyond h in group 14', () => {
    const x = [
      324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
      327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
    ]
    const sums = cusums(x, 325, 0.3175)
    const up = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    close(
      sums.map((one) => one.up),
      up,
      6,
    )
    close(
      sums.slice(0, 13).map((one) => one.down),
      [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0, 0],
      6,
    )
    expect(sums.findIndex((one) => one.up > 4.1959)).toBe(13)
  })

  it('Lucas & Crosier 1982, Table 5 (as reprinted in Six Sigma: Advanced Tools, Table 24.1): with and without head start', () => {
    const x = [0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6]
    const plain = cusums(x, 0, 0.5).map((one) => one.up)
    const head = cusums(x, 0, 0.5, { up: 2.5, down: 2.5 }).map((one) => one.up)
    close(plain, [0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0], 6)
    close(head, [2.8, 4.2, 5.1, 6.6, 7.2, 7.4, 9.5], 6)
    expect(plain.findIndex((one) => one > 5)).toBe(6)
    expect(head.findIndex((one) => one > 5)).toBe(2)
  })

  it('the vector cusum-hand-001 of the open package shewhart (validation_cases.json)', () => {
    const sums = cusums([10, 10, 10, 11, 12, 13], 10, 0.5).map((one) => one.up)
    close(sums, [0, 0, 0, 0.5, 2, 4.5], 9)
  })

  it('no sum is ever below 0, and the two change places when the values are mirrored', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -50, max: 50, noNaN: true })),
        fc.double({ min: 0, max: 3, noNaN: true }),
        (x, k) => {
          const sums = cusums(x, 0, k)
          const mirrored = cusums(
            x.map((value) => -value),
            0,
            k,
          )
          for (const [at, sum] of sums.entries()) {
            expect(sum.up).toBeGreaterThanOrEqual(0)
            expect(sum.down).toBeGreaterThanOrEqual(0)
            expect(mirrored[at]?.up).toBeCloseTo(sum.down, 9)
          }
        },
      ),
    )
  })
})

describe('average run length', () => {
  /** Mean number of standard normal values, shifted, until either sum passes `limit`. */
  function simulated(slack: number, limit: number, shift: number, runs: number): number {
    const random = seeded(20_260_504)
    let values = 0
    for (let run = 0; run < runs; run += 1) {
      let sums = CUSUM_START
      while (sums.up <= limit && sums.down <= limit) {
        sums = nextCusum(sums, shift + random.normal(), 0, slack)
        values += 1
      }
    }
    return values / runs
  }

  // Montgomery, Introduction to Statistical Quality Control, table of the tabular CUSUM with k = 1/2 (from memory).
  it.each([
    { limit: 4, shift: 0, published: 168 },
    { limit: 4, shift: 1, published: 8.38 },
    { limit: 4, shift: 2, published: 3.34 },
    { limit: 5, shift: 1, published: 10.4 },
    { limit: 5, shift: 2, published: 4.01 },
  ])('two-sided, k 1/2, h $limit, shift $shift: $published', ({ limit, shift, published }) => {
    const mean = simulated(0.5, limit, shift, 4_000)
    // The standard error of a mean of 4,000 nearly exponential run lengths is 1.6 %.
    expect(Math.abs(mean / published - 1)).toBeLessThan(0.05)
  })

  it("Siegmund's approximation agrees with the same table: two sides of 335 and 930 make 168 and 465", () => {
    expect(meanRunLength(0.5, 4) / 2).toBeGreaterThan(0.95 * 168)
    expect(meanRunLength(0.5, 4) / 2).toBeLessThan(1.05 * 168)
    expect(Math.abs(meanRunLength(0.5, 5) / 2 / 465 - 1)).toBeLessThan(0.02)
    expect(Math.abs(meanRunLength(0.5, 5, 1) / 10.4 - 1)).toBeLessThan(0.02)
  })
})

describe('EWMA', () => {
  it('NIST/SEMATECH e-Handbook 6.3.2.4: values and limits', () => {
    const x = [
      52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
      52.1,
    ]
    const published = [
      50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
      50.73, 51.23, 51.94, 51.99,
    ]
    let mean = 50
    for (const [k, value] of x.entries()) {
      mean = nextEwma(mean, value, 0.3)
      expect(Math.abs(mean - (published[k] ?? 0))).toBeLessThanOrEqual(0.0051)
    }
    expect(50 + ewmaLimit(2.0539, 0.3)).toBeCloseTo(52.5884, 4)
    // The page prints 47.4115, cut off rather than rounded.
    expect(50 - ewmaLimit(2.0539, 0.3)).toBeCloseTo(47.4116, 4)
  })

  it('Ross, Introduction to Probability and Statistics for Engineers and Scientists, Example 13.6b: beyond at 14 and 16', () => {
    const x = [48, 52, 70, 62, 57, 81, 56, 59, 77, 82, 78, 80, 74, 82, 68, 84]
    const printed = [
      57, 55.75, 59.31, 59.98, 59.24, 64.68, 62.5, 61.61, 65.48, 69.6, 71.7, 73.78, 73.83, 75.87, 73.9, 76.43,
    ]
    const limit = 62 + ewmaLimit(24 / Math.sqrt(4), 0.25)
    expect(limit).toBeCloseTo(75.61, 2)
    const beyond: number[] = []
    let mean = 60
    for (const [k, value] of x.entries()) {
      mean = nextEwma(mean, value, 0.25)
      // The book rounds as it goes.
      expect(Math.abs(mean - (printed[k] ?? 0))).toBeLessThan(0.03)
      if (mean > limit) beyond.push(k + 1)
    }
    expect(beyond).toEqual([14, 16])
  })

  it('stays between the least and the greatest of what it has taken', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -100, max: 100, noNaN: true }), { minLength: 1 }),
        fc.double({ min: 0.01, max: 1, noNaN: true }),
        (x, weight) => {
          let mean = x[0] ?? 0
          for (const value of x) mean = nextEwma(mean, value, weight)
          expect(mean).toBeGreaterThanOrEqual(Math.min(...x) - 1e-9)
          expect(mean).toBeLessThanOrEqual(Math.max(...x) + 1e-9)
        },
      ),
    )
  })
})
