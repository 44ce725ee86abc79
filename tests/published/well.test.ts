/** Wells against pumping tests that were published. */
import { describe, expect, it } from 'vitest'
import { drawdownAt, recoveredShare, specificCapacity, thiem } from '../../src/infer/well/formulas.js'

describe('a pumped well', () => {
  /** Gridley, Illinois, 1953 (Walton 1962): 220 gpm; 31.5 ft of drawdown at the end, 24.8 ft after 15 min. */
  it('gives 6.984 gpm a foot at Gridley at the end, and 8.871 after 15 min: only equal times compare', () => {
    expect(specificCapacity(220, 31.5)).toBeCloseTo(6.984, 3)
    expect(specificCapacity(220, 24.8)).toBeCloseTo(8.871, 3)
  })

  /** Glossary of groundwater terms: 20 gpm with 40 ft of drawdown. */
  it('that gives 20 gpm with 40 ft is lowered 60 ft by 30 gpm', () => {
    expect(specificCapacity(20, 40)).toBe(0.5)
    expect(drawdownAt(30, 0.5)).toBe(60)
  })

  /** Oude Korendijk (Kruseman & de Ridder 1994): 788 m³/d, 1.088 m at 30 m, 0.716 m at 90 m; printed 370 m²/d. */
  it('at Oude Korendijk has a transmissivity of 370 m²/d by Thiem', () => {
    expect(thiem(788, 30, 1.088, 90, 0.716)).toBeCloseTo(370.38, 2)
  })

  /** Hardinxveld 1981 (data of the TTim project): head at the stop −3.084 m, 1 min later −0.364, 30 min later −0.044. */
  it('at Hardinxveld has 88.2 % of its drawdown back a minute after the stop, and 98.6 % after half an hour', () => {
    expect(100 * recoveredShare(0, -3.084, -0.364)).toBeCloseTo(88.2, 1)
    expect(100 * recoveredShare(0, -3.084, -0.044)).toBeCloseTo(98.6, 1)
    expect(specificCapacity(1848, 3.084)).toBeCloseTo(599.2, 1)
  })
})
