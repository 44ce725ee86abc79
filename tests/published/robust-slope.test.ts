/** The robust slope that shows a leak, against reference data and an independent implementation. */
import { describe, expect, it } from 'vitest'
import { theilSen } from '../../src/infer/loss/slope.js'
import { median } from '../../src/infer/stats.js'
import { NORRIS } from './strd.js'

describe('Theil–Sen', () => {
  // NIST StRD, linear regression, "Norris"; slope and interval by scipy.stats.theilslopes(y, x, 0.95) of scipy 1.17.1.
  const line = theilSen(NORRIS.x, NORRIS.y)

  it('gives the slope and the intercepts that scipy gives on the NIST data "Norris"', () => {
    expect(line?.slope).toBeCloseTo(1.0021968365553604, 12)
    // method='joint': the median of y − slope · x, which is ours; method='separate': median(y) − slope · median(x).
    expect(line?.intercept).toBeCloseTo(-0.3010984182776848, 10)
    expect(median(NORRIS.y) - (line?.slope ?? 0) * median(NORRIS.x)).toBeCloseTo(-0.0640158172232077, 10)
  })

  it("gives Sen's 95 % interval to 1 part in 10,000; scipy also corrects for the tied readings of these data", () => {
    expect(line?.low).toBeCloseTo(1.0011153245594469, 4)
    expect(line?.high).toBeCloseTo(1.0030534351145037, 4)
  })

  it('gives the very interval where nothing is tied, one wild point or not', () => {
    const x = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9]
    const found = theilSen(x, [0.1, 1.2, 1.9, 3.3, 3.8, 5.4, 5.9, 7.2, 30, 8.7])
    // scipy.stats.theilslopes(…, method='joint').
    expect(found?.slope).toBeCloseTo(1, 12)
    expect(found?.intercept).toBeCloseTo(0.15, 12)
    expect(found?.low).toBeCloseTo(0.925, 12)
    expect(found?.high).toBeCloseTo(1.1666666666666667, 12)
  })

  it('needs two distinct x', () => {
    expect(theilSen([1, 1, 1], [1, 2, 3])).toBeNull()
    expect(theilSen([], [])).toBeNull()
  })
})
