import { describe, expect, it } from 'vitest'
import { ownMinimum } from '../../src/infer/cold/methods.js'
import type { Night } from '../../src/infer/cold/state.js'

/** A dozen nights that hardly differ: any line may be laid through them. */
function nights(changes: (i: number) => Partial<Night> = () => ({})): Night[] {
  return Array.from({ length: 14 }, (_, i) => ({
    t0: 8 + (i % 3) * 0.1,
    td: 1 + (i % 2) * 0.05,
    fall: 4 + (i % 4) * 0.02,
    sun: 0.9,
    min: 1 + (i % 5) * 0.4,
    marks: [],
    ...changes(i),
  }))
}

describe("tonight by this place's own nights", () => {
  it('never falls much further than any night did here, however wild the line through few nights runs', () => {
    for (const td of [-25, -5, 1, 12, 20]) {
      for (const fall of [0, 4, 15]) {
        const said = ownMinimum(nights(), { t0: 9, td, fall, sun: 0.1 })
        expect(said).not.toBeNull()
        expect(said ?? 0).toBeGreaterThanOrEqual(9 - (8.2 - 1) - 4 - 0.2)
        expect(said ?? 0).toBeLessThanOrEqual(9)
      }
    }
  })

  it('is not bent by that where nights are as they were', () => {
    const ordinary = nights((i) => ({ t0: i, min: i - 6 }))
    expect(ownMinimum(ordinary, { t0: 7, td: 1, fall: 4, sun: 0.9 })).toBeCloseTo(1, 0)
  })
})
