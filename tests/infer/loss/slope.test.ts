import { describe, expect, it } from 'vitest'
import { quietFall } from '../../../src/infer/loss/slope.js'
import { Random } from '../../../simulators/random.js'

/** Falls from mean to mean of a level that loses `perStep` and scatters by `sd`. */
function falls(n: number, perStep: number, sd: number, seed = 1): number[] {
  const random = new Random(seed, 'falls')
  let before = sd * random.normal()
  return Array.from({ length: n }, () => {
    const noise = sd * random.normal()
    const fall = perStep + before - noise
    before = noise
    return fall
  })
}

describe('the fall between draws', () => {
  it('is that of the leak though draws stand between, and says when the last draw was', () => {
    const seen = falls(48, 0.33, 0.4)
    for (const k of [5, 20, 37]) seen[k] = (seen[k] ?? 0) + 6
    const found = quietFall(seen, 0.4, 3)
    expect(found.draws).toBe(3)
    expect(found.sinceDraw).toBe(10)
    expect(Math.abs(found.perStep - 0.33)).toBeLessThan(3 * found.perStepSd)
    expect(found.even).toBe(true)
  })

  it('is even for a leak, and not for people who pause', () => {
    const paused = falls(48, 0, 0.4).map((fall, k) => (k < 16 ? fall + 1.2 : fall))
    expect(quietFall(falls(48, 1, 0.4), 0.4, 3).even).toBe(true)
    expect(quietFall(paused, 0.4, 3).even).toBe(false)
  })

  it('scatters as the readings do for a stream, and more for many small uses', () => {
    const random = new Random(3, 'hands')
    const hands = falls(72, 0, 0.4).map((fall) => fall + (random.chance(0.2) ? 2 : 0))
    expect(quietFall(falls(72, 0.4, 0.4), 0.4, 3).roughness).toBeLessThan(1.3)
    expect(quietFall(hands, 0.4, 3).roughness).toBeGreaterThan(1.3)
  })

  it('is not even for a level that does not fall, whatever its noise', () => {
    const called = Array.from({ length: 200 }, (_, seed) => quietFall(falls(48, 0, 0.4, seed), 0.4, 3))
    const told = called.filter(({ even, perStep }) => even && perStep * 48 > 3 * Math.SQRT2 * 0.4)
    expect(told.length).toBe(0)
  })
})
