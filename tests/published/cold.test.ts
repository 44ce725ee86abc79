/** The cold against published values; the source stands beside each. US customary units are those of the sources. */
import psychrolib from 'psychrolib'
import { describe, expect, it } from 'vitest'
import { dewPointC } from '../../src/infer/cold/dew-point.js'
import { electrolyteFreezesAtC, restingCharge } from '../../src/infer/cold/electrolyte.js'
import { berggrenDepthM, freezingIndexCd, stefanDepthM } from '../../src/infer/cold/frost-depth.js'
import { courseAt, crossesAt } from '../../src/infer/cold/night-course.js'
import { coolingHours, insulationResistance, waterHeat } from '../../src/infer/cold/pipe.js'
import { fitSteps, predictSteps } from '../../src/infer/cold/regression.js'

const T0 = [3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6]
const TD = [-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1]
const TN = [-3.1, -5, -6.3, -5.4, -4, -2.5, -4.8, -5, -4.4, -3.3]

describe("tonight's minimum: Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO 2005, ch. 5, FFST example", () => {
  it('is regressed in two steps, and gives -0.7409219 °C for T0 10, Td 2, as an open implementation prints it', () => {
    const steps = fitSteps(TN, [T0, TD], false)
    expect(steps[0]?.slope).toBeCloseTo(0.502812, 6)
    expect(steps[0]?.intercept).toBeCloseTo(-5.908549, 6)
    expect(steps[1]?.slope).toBeCloseTo(0.026472, 6)
    expect(steps[1]?.intercept).toBeCloseTo(0.086562, 6)
    expect(predictSteps(steps, [10, 2])).toBeCloseTo(-0.7409219, 6)
  })

  it('is not the joint fit, which gives -1.029 °C', () => {
    // Normal equations of the two centred columns.
    const mean = (values: readonly number[]) => values.reduce((sum, one) => sum + one, 0) / values.length
    const s = (a: readonly number[], b: readonly number[]) =>
      a.reduce((sum, one, i) => sum + (one - mean(a)) * ((b[i] ?? 0) - mean(b)), 0)
    const det = s(T0, T0) * s(TD, TD) - s(T0, TD) ** 2
    const a = (s(T0, TN) * s(TD, TD) - s(TD, TN) * s(T0, TD)) / det
    const b = (s(TD, TN) * s(T0, T0) - s(T0, TN) * s(T0, TD)) / det
    const joint = mean(TN) + a * (10 - mean(T0)) + b * (2 - mean(TD))
    expect(joint).toBeCloseTo(-1.029, 3)
    expect(predictSteps(fitSteps(TN, [T0, TD], false), [10, 2]) - joint).toBeGreaterThan(0.28)
  })
})

describe('the course of the night: the same book; 13 values as printed by an open implementation', () => {
  const printed = [
    -0.825, -1.5603, -2.1245, -2.6001, -3.0191, -3.3979, -3.7463, -4.0706, -4.3751, -4.6632, -4.9371, -5.1989, -5.45,
  ]

  it('falls with the root of the time from two hours after sunset', () => {
    const course = printed.map((_, i) => courseAt(0.95, -5.45, 15, i + 3))
    printed.forEach((value, i) => {
      expect(course[i]).toBeCloseTo(value, 3)
    })
  })

  it('passes 0 °C 2.286 h after sunset', () => {
    expect(crossesAt(0.95, -5.45, 15, 0)).toBeCloseTo(2.286, 3)
    expect(crossesAt(0.95, -5.45, 15, 3)).toBeNull()
  })

  it('is refused for a night of two hours, and for one that ends warmer than it began', () => {
    expect(() => courseAt(1, 0, 2, 1)).toThrow(/2 h/)
    expect(() => courseAt(1, 2, 12, 3)).toThrow(/minimum/)
  })
})

describe('water in a pipe: ASHRAE Handbook, Fundamentals, ch. 23; table values quoted by Warren Forensics (2014)', () => {
  const INCH = 0.0254
  /** 2 in steel pipe, 1.5 in of insulation of 0.30 Btu·in/(h·ft²·°F) = 0.0433 W/(m·K); the wall and the film left out. */
  const constantH = (insulationResistance(2.375 * INCH, 5.375 * INCH, 0.3 * 0.144228) * waterHeat(2.067 * INCH)) / 3600
  const celsius = (f: number) => (f - 32) / 1.8

  it.each([
    [-18, 1.4, 1.3785],
    [20, 4.6, 4.5829],
  ])('from 42 °F is at 32 °F in air of %d °F after %d h', (airF, printedH, exactH) => {
    const hours = coolingHours(constantH, celsius(42), celsius(airF))
    expect(Math.abs((hours ?? 0) - printedH)).toBeLessThan(0.05)
    // Worked out in customary units; density and heat of water differ from ours in the fourth digit.
    expect(hours).toBeCloseTo(exactH, 2)
  })

  it('never comes to 0 °C in warmer air, and is there at once when it is', () => {
    expect(coolingHours(2, 5, 0.1)).toBeNull()
    expect(coolingHours(2, 0, -5)).toBe(0)
  })
})

describe('frost in the ground: modified Berggren, UFC 3-130-06 (TM 5-852-6); inputs of an open implementation', () => {
  const FOOT = 0.3048
  /** 0.78 Btu/(h·ft·°F), 100 lb/ft³, 15 % of water. */
  const soil = { conductivity: 0.78 * 1.730735, dryDensity: 100 * 16.018463, waterShare: 0.15 }

  it('goes 5.3285 ft deep for 2,500 °F·days with n 0.75 in 160 days at a yearly mean of 37.2 °F; Stefan 5.7009 ft', () => {
    const surface = (2500 * 0.75) / 1.8
    expect(stefanDepthM(surface, soil) / FOOT).toBeCloseTo(5.7009, 3)
    expect(berggrenDepthM(surface, soil, 160, (37.2 - 32) / 1.8) / FOOT).toBeCloseTo(5.3285, 3)
  })

  it('and 5.8466 ft with n 1 and 0.72 Btu/(h·ft·°F)', () => {
    const other = { ...soil, conductivity: 0.72 * 1.730735 }
    expect(berggrenDepthM(2500 / 1.8, other, 160, (37.2 - 32) / 1.8) / FOOT).toBeCloseTo(5.8466, 3)
  })

  it('rests on the freezing index of the standard: from the highest to the lowest of the sum, a thaw counted', () => {
    // 10 °C·days warm, 5 cold, a thaw of 2, 4 cold: 10 down to 3.
    const means = [5, 5, -2, -3, 2, -4]
    expect(freezingIndexCd(means)).toBe(7)
    const naive = -means.filter((mean) => mean < 0).reduce((sum, mean) => sum + mean, 0)
    expect(naive).toBe(9)
  })
})

describe('the electrolyte of lead-acid: US Army TM 5-3820-256-24-4, table 2 (full = 1.265); row of 25 % by TM 5-1185', () => {
  it.each([
    [1, -59.5],
    [0.75, -37.2],
    [0.5, -26.1],
    [0.25, -15],
    [0, -9.4],
  ])('at a charge of %d freezes at %d °C', (share, celsius) => {
    expect(electrolyteFreezesAtC(share)).toBeCloseTo(celsius, 6)
  })

  it('whose charge is told by its voltage at rest [trade source: 12.66, 12.45, 12.30, 12.15 V]', () => {
    for (const [volts, share] of [
      [12.66, 1],
      [12.45, 0.75],
      [12.3, 0.5],
      [12.15, 0.25],
    ] as const) {
      expect(restingCharge(volts, 12)).toBeCloseTo(share, 9)
    }
    expect(restingCharge(24.6, 24)).toBeCloseTo(0.5, 9)
  })
})

describe('dew point', () => {
  it('by PsychroLib is within 0.1 °C of the Magnus formula (17.62, 243.12) above 0 °C', () => {
    const magnus = (c: number, percent: number) => {
      const g = Math.log(percent / 100) + (17.62 * c) / (243.12 + c)
      return (243.12 * g) / (17.62 - g)
    }
    expect(magnus(20, 50)).toBeCloseTo(9.255, 2)
    for (const [c, percent] of [
      [20, 50],
      [25, 80],
      [10, 90],
    ] as const) {
      expect(Math.abs((dewPointC(c, percent) ?? 99) - magnus(c, percent))).toBeLessThan(0.1)
    }
  })

  it('is the temperature at which the vapour is saturated (ASHRAE 2017, ch. 1, table 3: pressures of saturation)', () => {
    for (const [c, pascal] of [
      [-20, 103.24],
      [-5, 401.74],
      [5, 872.6],
      [25, 3169.7],
      [50, 12351.3],
    ] as const) {
      expect(Math.abs(psychrolib.GetSatVapPres(c) / pascal - 1)).toBeLessThan(3e-4)
      expect(dewPointC(c, 100)).toBeCloseTo(c, 2)
    }
  })

  it('is not known for a humidity near nothing, and a sensor that says 103 % is taken at 100 %', () => {
    expect(dewPointC(10, 0)).toBeNull()
    expect(dewPointC(10, 103)).toBeCloseTo(10, 2)
  })
})
