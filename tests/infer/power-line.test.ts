import { describe, expect, it } from 'vitest'
import { fitPower, powerAt } from '../../src/infer/evidence/power.js'

const VOLTS = [25.1, 25.4, 25.8, 26.1, 26.6, 27.2, 27.8, 25.5, 26.3, 26.9]
/** A per cent to and fro, the same each time. */
const wobble = (i: number) => 1 + 0.01 * (i % 2 === 0 ? 1 : -1)

describe('power against voltage, from the fills of one pump', () => {
  it.each([
    ['a displacement pump: the same current at any voltage', (v: number) => 3 * v, 1],
    ['a constant-power driver: the same watts at any voltage', () => 78, 0],
    ['a centrifugal pump: the cube of its speed', (v: number) => 78 * (v / 26) ** 3, 3],
  ])('%s', (_, watts, exponent) => {
    const line = fitPower(
      VOLTS.map((v, i) => watts(v) * wobble(i)),
      VOLTS,
    )
    expect(line).not.toBeNull()
    if (line === null) return
    expect(Math.abs(line.exponent - exponent)).toBeLessThan(0.45)
    const far = powerAt(line, 24)
    expect(Math.abs(far.value - watts(24))).toBeLessThan(2 * far.sd)
    const near = powerAt(line, 26.3)
    expect(far.sd / far.value).toBeGreaterThan(near.sd / near.value)
  })

  it('knows nothing from two fills, and leans on the usual pump where the voltage never changed', () => {
    expect(fitPower([78, 79], [26, 26.1])).toBeNull()
    const flat = fitPower([78, 78.4, 77.8, 78.1], [26, 26, 26, 26])
    expect(flat?.exponent).toBeCloseTo(1, 6)
    expect(flat?.exponentSd).toBeCloseTo(0.7, 6)
  })
})
