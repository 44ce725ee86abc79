/** Sources, beside each check. [CALC]: reckoned; [MEMORY]: quoted from memory. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  addCurrent,
  beginEnergy,
  type EnergyState,
  hydraulicFloorWhPerL,
  settleEnergy,
} from '../../src/infer/energy.js'
import { add, divide, scale } from '../../src/infer/figure.js'
import { createRing, type Ring } from '../../src/infer/ring.js'
import { HOUR, SECOND } from '../../src/model/time.js'

const FT_M = 0.3048
const US_GALLON_L = 3.785411784

describe('the least energy that lifting water takes, ρ·g·H', () => {
  it('is 2.724070 Wh for each m³ and metre, so 0.1090 Wh/l at 40 m', () => {
    // [CALC] 1,000 kg/m³ · 9.80665 m/s² (standard gravity, exact) / 3600.
    expect(hydraulicFloorWhPerL(1) * 1_000).toBeCloseTo(2.72407, 5)
    expect(hydraulicFloorWhPerL(40)).toBeCloseTo(0.109, 4)
  })

  it('is 3.1430136506e-3 Wh for each US gallon and foot', () => {
    // [CALC] from the same with the exact foot and gallon.
    expect(hydraulicFloorWhPerL(FT_M) * US_GALLON_L).toBeCloseTo(3.1430136506e-3, 12)
  })

  it('makes 3 gallons a minute over 200 ft from 250 W a pump of 45.2 %', () => {
    // Water horsepower = gpm · ft / 3956, 1 hp = 0.746 kW: Merkley & Allen, Sprinkle & Trickle Irrigation Lectures,
    // Utah State University, lecture 11. The example [CALC]: 0.15167 hp = 113.0 W of 250 W.
    const litresAnHour = 3 * US_GALLON_L * 60
    expect(hydraulicFloorWhPerL(200 * FT_M) * litresAnHour).toBeCloseTo(113, 0)
    expect((hydraulicFloorWhPerL(200 * FT_M) * litresAnHour) / 250).toBeCloseTo(0.4525, 3)
  })
})

type Point = readonly [t: number, value: number]

const NO_GAP = 24 * HOUR

function volts(points: readonly Point[]): Ring {
  const ring = createRing(10_000)
  for (const [t, v] of points) {
    ring.t.push(t)
    ring.v.push(v)
  }
  return ring
}

/** The energy of a whole run: its current and voltage at their own times, settled as the engine does, at each sample. */
function energyOf(current: readonly Point[], voltage: readonly Point[], gapMs = NO_GAP): EnergyState {
  const [first = [0, 0], second = [0, 0]] = current
  const state = beginEnergy(first[0], first[1], second[0], second[1])
  for (const [t, i] of current.slice(2)) {
    addCurrent(state, t, i, gapMs)
    settleEnergy(state, volts(voltage.filter(([at]) => at <= t)), gapMs, false)
  }
  settleEnergy(state, volts(voltage), gapMs, true)
  return state
}

const wh = (state: EnergyState): number => state.ws / 3600

describe('energy by the trapezoid rule', () => {
  /** ∫₀^π sin x dx = 2 by n equal trapezoids: (π/n)·cot(π/2n). Values [MEMORY], and [CALC] agrees. */
  it.each([
    [4, 1.896119],
    [10, 1.983524],
    [100, 1.999836],
  ])('gives the half wave of a sine, in %d pieces, as %d', (n, expected) => {
    const span = 10 * HOUR
    const current = Array.from({ length: n + 1 }, (_, k): Point => [(span * k) / n, Math.sin((Math.PI * k) / n)])
    const state = energyOf(current, [
      [0, 1],
      [span, 1],
    ])
    expect((state.ws * Math.PI) / (span / SECOND)).toBeCloseTo(expected, 6)
    expect(state.known).toBe(true)
  })

  it('errs as −(b−a)³·f″/12n² says: ten times the pieces, a hundredth of the error', () => {
    const error = (n: number): number => {
      const current = Array.from({ length: n + 1 }, (_, k): Point => [(HOUR * k) / n, Math.sin((Math.PI * k) / n)])
      return (
        2 -
        (energyOf(current, [
          [0, 1],
          [HOUR, 1],
        ]).ws *
          Math.PI) /
          3600
      )
    }
    expect(error(10) / error(100)).toBeCloseTo(100.2, 1)
  })

  /** Ascending times with a value each, between 0 and an hour, both ends included. */
  const samples = (low: number, high: number): fc.Arbitrary<Point[]> =>
    fc
      .tuple(
        fc.uniqueArray(fc.integer({ min: 1, max: HOUR - 1 }), { maxLength: 40 }),
        fc.array(fc.double({ min: low, max: high, noNaN: true }), { minLength: 42, maxLength: 42 }),
      )
      .map(([times, values]) => [0, ...times.sort((a, b) => a - b), HOUR].map((t, i): Point => [t, values[i] ?? low]))

  it('is exact for a steady current and a voltage of straight pieces, whenever either was sampled', () => {
    fc.assert(
      fc.property(samples(20, 30), samples(0, 1), (voltage, when) => {
        const current = when.map(([t]): Point => [t, 3])
        let exact = 0
        for (let k = 1; k < voltage.length; k += 1) {
          const [t0, v0] = voltage[k - 1] ?? [0, 0]
          const [t1, v1] = voltage[k] ?? [0, 0]
          exact += (3 * ((v0 + v1) / 2) * (t1 - t0)) / HOUR
        }
        expect(wh(energyOf(current, voltage))).toBeCloseTo(exact, 8)
      }),
    )
  })

  it('is exact for a steady voltage and a current of straight pieces, unevenly sampled', () => {
    fc.assert(
      fc.property(samples(2, 3), (current) => {
        let exact = 0
        for (let k = 1; k < current.length; k += 1) {
          const [t0, i0] = current[k - 1] ?? [0, 0]
          const [t1, i1] = current[k] ?? [0, 0]
          exact += (24 * ((i0 + i1) / 2) * (t1 - t0)) / HOUR
        }
        const state = energyOf(current, [
          [0, 24],
          [HOUR, 24],
        ])
        expect(wh(state)).toBeCloseTo(exact, 8)
        expect(state.as / 3600).toBeCloseTo(exact / 24, 8)
      }),
    )
  })

  it('uses the times of both signals: a dip of the voltage between two samples of the current is not missed', () => {
    const current: Point[] = [
      [0, 3],
      [HOUR, 3],
    ]
    const steady = wh(
      energyOf(current, [
        [0, 26],
        [HOUR, 26],
      ]),
    )
    const dipping = wh(
      energyOf(current, [
        [0, 26],
        [HOUR / 4, 26],
        [HOUR / 2, 24],
        [(3 * HOUR) / 4, 26],
        [HOUR, 26],
      ]),
    )
    expect(steady).toBeCloseTo(78, 9)
    // [CALC] a triangle of 2 V over half an hour: 3 A · 0.5 · 2 V · 0.5 h.
    expect(steady - dipping).toBeCloseTo(1.5, 9)
  })

  it('over one piece in which both rise it is off by ΔV·ΔI/6, the price of straight lines', () => {
    // [CALC] ∫(10 + 2s)(1 + s) ds = 16⅔ over an hour; the trapezoid gives 17.
    expect(
      wh(
        energyOf(
          [
            [0, 1],
            [HOUR, 2],
          ],
          [
            [0, 10],
            [HOUR, 12],
          ],
        ),
      ),
    ).toBeCloseTo(16 + 2 / 3 + (2 * 1) / 6, 9)
  })

  it('leaves the inrush out: a first sample far above the second tells of a start, not of energy', () => {
    const rest: Point[] = [
      [20_000, 3],
      [30_000, 3],
    ]
    const withInrush = energyOf(
      [[0, 0], [10_000, 14], ...rest],
      [
        [0, 25],
        [30_000, 25],
      ],
    )
    const without = energyOf(
      [[0, 0], [10_000, 3], ...rest],
      [
        [0, 25],
        [30_000, 25],
      ],
    )
    expect(withInrush.ws).toBeCloseTo(without.ws, 9)
  })

  it('is unknown, not smaller, after a gap in the current or in the voltage', () => {
    const steady = (from: number, to: number, value: number): Point[] =>
      Array.from({ length: (to - from) / 10 + 1 }, (_, k): Point => [(from + 10 * k) * SECOND, value])
    const gapMs = 90 * SECOND
    expect(energyOf(steady(0, 600, 3), steady(0, 600, 25), gapMs).known).toBe(true)
    const gap = energyOf([...steady(0, 200, 3), ...steady(400, 600, 3)], steady(0, 600, 25), gapMs)
    expect(gap.known).toBe(false)
    expect(gap.gapS).toBe(200)
    const dark = energyOf(steady(0, 600, 3), [...steady(0, 200, 25), ...steady(400, 600, 25)], gapMs)
    expect(dark.known).toBe(false)
    expect(energyOf(steady(0, 600, 3), [], gapMs).known).toBe(false)
    const endless = energyOf(steady(0, 600, 3), steady(0, 400, 25), gapMs)
    expect(endless.known).toBe(false)
  })
})

describe('arithmetic of uncertain figures, JCGM 100:2008 (GUM)', () => {
  it('a quotient has the relative uncertainties in quadrature (5.1.6)', () => {
    // [CALC] 3 % and 4 % make 5 %.
    const found = divide({ value: 100, sd: 3 }, { value: 50, sd: 2 })
    expect(found?.value).toBe(2)
    expect(found?.sd).toBeCloseTo(0.1, 12)
  })

  it('reckons an X-ray example of three factors as published: 0.6967, u 0.00494', () => {
    // Measurement Standards Laboratory of New Zealand, GTC documentation: y = X₁/X₂·Y, 0.1820(0.00093),
    // 0.1823(0.00058), 0.6978(0.0026). A product is a quotient by the inverse, whose relative uncertainty is the same.
    const inverse = { value: 1 / 0.6978, sd: 0.0026 / 0.6978 ** 2 }
    const found = divide(divide({ value: 0.182, sd: 0.00093 }, { value: 0.1823, sd: 0.00058 }), inverse)
    expect(found?.value).toBeCloseTo(0.6967, 4)
    expect(found?.sd).toBeCloseTo(0.00494, 4)
    // [CALC] to more digits.
    expect(found?.value).toBeCloseTo(0.6966517, 7)
    expect(found?.sd).toBeCloseTo(0.0049318, 7)
  })

  it('a sum has the absolute uncertainties in quadrature, and a factor that is exact scales them (5.1.2)', () => {
    expect(add({ value: 10, sd: 3 }, { value: -4, sd: 4 })).toEqual({ value: 6, sd: 5 })
    // GUM supplement 1: the sum of four quantities of standard uncertainty 1 has 2.
    const one = { value: 0, sd: 1 }
    expect(add(add(one, one), add(one, one))?.sd).toBeCloseTo(2, 12)
    expect(scale({ value: 3, sd: 0.5 }, -2)).toEqual({ value: -6, sd: 1 })
  })

  it('what is unknown stays unknown, and nothing is divided by what may be nothing', () => {
    expect(divide(null, { value: 1, sd: 0 })).toBeNull()
    expect(divide({ value: 1, sd: 0 }, null)).toBeNull()
    expect(add({ value: 1, sd: 0 }, null)).toBeNull()
    expect(scale(null, 2)).toBeNull()
    expect(divide({ value: 1, sd: 0 }, { value: 0, sd: 0 })).toBeNull()
    expect(divide({ value: 1, sd: 0 }, { value: 1.9, sd: 1 })).toBeNull()
  })

  it('a numerator of 0 keeps its own uncertainty', () => {
    expect(divide({ value: 0, sd: 2 }, { value: 4, sd: 0.1 })).toEqual({ value: 0, sd: 0.5 })
  })
})
