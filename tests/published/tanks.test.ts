/**
 * Sources, beside each check. [CALC]: reckoned from the formula or the measures given, with no printed value at hand.
 */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { litresPerMetre, volumeAt } from '../../src/infer/tank.js'
import type { TankShape } from '../../src/model/settings.js'

const INCH_M = 0.0254
const US_GALLON_L = 3.785411784

const lying = (diameterM: number, lengthM: number): TankShape => ({ kind: 'lying-cylinder', diameterM, lengthM })

describe('a cylinder that lies', () => {
  /** [CALC] from L·[r²·acos((r−h)/r) − (r−h)·√(2rh−h²)]; textbooks print .25 → .1955 and .1 → .0520. */
  const FRACTIONS = [
    [0.05, 0.018693],
    [0.1, 0.052044],
    [0.2, 0.142378],
    [0.25, 0.195501],
    [0.3, 0.252316],
    [0.4, 0.37353],
    [0.5, 0.5],
    [0.6, 0.62647],
    [0.7, 0.747684],
    [0.75, 0.804499],
    [0.8, 0.857622],
    [0.9, 0.947956],
    [0.95, 0.981307],
    [1, 1],
  ] as const

  it.each(FRACTIONS)('filled to %d of its diameter holds %d of its volume', (height, share) => {
    const shape = lying(1.3, 2.2)
    expect(volumeAt(shape, height * 1.3) / volumeAt(shape, 1.3)).toBeCloseTo(share, 6)
  })

  it('of 2 m by 5 m, half full, holds 7.854 of 15.708 m³', () => {
    // Worked example of processconvert.com, "Horizontal tank partial volume".
    expect(volumeAt(lying(2, 5), 1)).toBeCloseTo(7_854, 0)
    expect(volumeAt(lying(2, 5), 2)).toBeCloseTo(15_708, 0)
  })

  it('of 1 m by 2 m holds 396.3 l at 30 cm, not the 451.3 l that a page prints', () => {
    // [CALC]; num8ers.com prints 451.3 l (28.73 %), which is wrong: the trap is named so that nobody copies it.
    expect(volumeAt(lying(1, 2), 0.3)).toBeCloseTo(396.3, 1)
  })

  it('holds as much above a level as an equal one below the mirrored level', () => {
    const share = fc.integer({ min: 0, max: 1_000 }).map((thousandths) => thousandths / 1_000)
    fc.assert(
      fc.property(share, fc.double({ min: 0.2, max: 4, noNaN: true }), (x, diameterM) => {
        const shape = lying(diameterM, 3)
        const full = volumeAt(shape, diameterM)
        expect((volumeAt(shape, x * diameterM) + volumeAt(shape, (1 - x) * diameterM)) / full).toBeCloseTo(1, 9)
      }),
    )
  })

  it('gains most litres per metre at half height: the water surface, 2·L·√(2rh − h²)', () => {
    for (const h of [0.2, 0.5, 0.9]) {
      const surface = 2 * 3 * Math.sqrt(2 * 0.7 * h - h * h) * 1_000
      expect(litresPerMetre(lying(1.4, 3), h) / surface).toBeCloseTo(1, 3)
    }
  })
})

describe('every shape', () => {
  const shape: fc.Arbitrary<TankShape> = fc.oneof(
    fc.record({
      kind: fc.constant('box' as const),
      lengthM: fc.double({ min: 0.1, max: 10, noNaN: true }),
      widthM: fc.double({ min: 0.1, max: 10, noNaN: true }),
      heightM: fc.double({ min: 0.1, max: 5, noNaN: true }),
    }),
    fc.record({
      kind: fc.constant('upright-cylinder' as const),
      diameterM: fc.double({ min: 0.1, max: 10, noNaN: true }),
      heightM: fc.double({ min: 0.1, max: 5, noNaN: true }),
    }),
    fc.record({
      kind: fc.constant('lying-cylinder' as const),
      diameterM: fc.double({ min: 0.1, max: 5, noNaN: true }),
      lengthM: fc.double({ min: 0.1, max: 10, noNaN: true }),
    }),
    fc.constant<TankShape>({
      kind: 'table',
      points: [
        [0, 0],
        [0.4, 150],
        [1, 800],
        [1.2, 850],
      ],
    }),
  )

  it('holds nothing below its floor, no more than full above its top, and never less at a higher level', () => {
    const level = fc.integer({ min: -2_000, max: 12_000 }).map((millimetres) => millimetres / 1_000)
    fc.assert(
      fc.property(shape, level, level, (tank, a, b) => {
        const low = volumeAt(tank, Math.min(a, b))
        const high = volumeAt(tank, Math.max(a, b))
        expect(volumeAt(tank, -0.01)).toBe(0)
        expect(low).toBeGreaterThanOrEqual(-1e-9)
        expect(high).toBeGreaterThanOrEqual(low - 1e-6)
        expect(high).toBeLessThanOrEqual(volumeAt(tank, 100) + 1e-6)
      }),
    )
  })

  it('an upright one of 1.24 m diameter holds 1 207.6 l per metre; a box of 1.2 m by 1 m holds 1 200', () => {
    // [CALC] π/4 · 1.24² and 1.2 · 1.
    expect(litresPerMetre({ kind: 'upright-cylinder', diameterM: 1.24, heightM: 1.8 }, 1)).toBeCloseTo(1_207.6, 1)
    expect(litresPerMetre({ kind: 'box', lengthM: 1.2, widthM: 1, heightM: 1.3 }, 0.6)).toBeCloseTo(1_200, 6)
  })
})

describe('a container in a cage', () => {
  /** Makers' sheets (bostonibctanks, ibctanks.ca): rated 275 US gal, bottle 45 × 37 × 43 in, cage 48 × 40 × 46 in. */
  it('does not hold what its measures say: the box of its bottle is an eighth too much, that of its cage two fifths', () => {
    const box = (length: number, width: number, height: number): TankShape => ({
      kind: 'box',
      lengthM: length * INCH_M,
      widthM: width * INCH_M,
      heightM: height * INCH_M,
    })
    // [CALC] 309.9 and 382.3 US gal.
    expect(volumeAt(box(45, 37, 43), 9) / US_GALLON_L).toBeCloseTo(309.9, 1)
    expect(volumeAt(box(48, 40, 46), 9) / US_GALLON_L).toBeCloseTo(382.3, 1)
  })

  it('is a table from empty to its rated volume: 6.395 US gal for each inch of the bottle', () => {
    const points = [
      [0, 0],
      [43 * INCH_M, 275 * US_GALLON_L],
    ] as const
    const tank: TankShape = { kind: 'table', points }
    expect((litresPerMetre(tank, 0.5) * INCH_M) / US_GALLON_L).toBeCloseTo(6.395, 3)
    expect(volumeAt(tank, 9)).toBeCloseTo(1_040.988, 3)
  })
})
