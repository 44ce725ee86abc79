/** Sizing by hand, copper and batteries in the cold against printed figures; loss of load by what must hold of it. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { coldMultiplier } from '../../src/infer/sizing/battery-rules.js'
import { ampereHours, arrayForLoad, storageForLoad } from '../../src/infer/sizing/hand.js'
import { lossOfLoad } from '../../src/infer/sizing/loss-of-load.js'
import { awgDiameterMm, circularMils, ohmAt, ohmPerKm, voltageDrop } from '../../src/infer/sizing/wire.js'

/** Pages of low authority whose arithmetic is exact: calculatorslibrary (quick-reference rows), offgridsun, batteries-solar. */
describe('the hand method', () => {
  it.each([
    [1200, 5.0, 0.8, 300],
    [2100, 4.5, 0.8, 583],
    [3000, 3.8, 0.8, 987],
  ])('%d Wh a day at %d h of full sun and %d arriving need an array of %d W', (load, hours, derate, watts) => {
    expect(Math.round(arrayForLoad(load, hours, derate))).toBe(watts)
  })

  it('carries 50 W for 6 h over 3 days at half depth with 1,800 Wh', () => {
    expect(storageForLoad(50 * 6, 3, 0.5)).toBe(1800)
  })

  it('carries 300 Wh a day over 2 days, 80 % deep, with 750 Wh: 62.5 Ah at 12 V', () => {
    expect(ampereHours(storageForLoad(300, 2, 0.8), 12)).toBe(62.5)
  })

  it('makes a lead battery larger for 40 °F by 1.30: 541.67 Ah where 80 °F asks for 416.67', () => {
    expect(ampereHours(storageForLoad(1000, 2.5, 0.5, coldMultiplier('flooded', 4.4)), 12)).toBeCloseTo(541.67, 2)
    expect(ampereHours(storageForLoad(1000, 2.5, 0.5, coldMultiplier('flooded', 26.7)), 12)).toBeCloseTo(416.67, 2)
  })

  it('gives 417.53 W and 535.29 Ah for a widely copied example, whose printed 413.9 W is a slip', () => {
    expect(arrayForLoad(1092 * 1.3, 3.4, 1)).toBeCloseTo(417.53, 2)
    // 1,092 Wh over 3 days, 85 % of it arriving, 60 % deep, at 12 V.
    expect(ampereHours(storageForLoad(1092 / 0.85, 3, 0.6), 12)).toBeCloseTo(535.29, 2)
  })
})

describe('lead-acid in the cold', () => {
  /** Multipliers as the sizing worksheets print them, °F to °C. */
  it.each([
    [26.7, 1.0],
    [21.2, 1.04],
    [15.6, 1.11],
    [10, 1.19],
    [4.4, 1.3],
    [-1.1, 1.4],
    [-6.7, 1.59],
  ])('asks at %d °C for %d times the capacity', (celsius, multiplier) => {
    expect(coldMultiplier('agm', celsius)).toBeCloseTo(multiplier, 10)
  })

  it('never asks for less when it is colder', () => {
    for (let c = -30; c < 40; c += 1) {
      expect(coldMultiplier('gel', c)).toBeGreaterThanOrEqual(coldMultiplier('gel', c + 1))
      expect(coldMultiplier('lifepo4', c)).toBeGreaterThanOrEqual(coldMultiplier('lifepo4', c + 1))
    }
  })
})

describe('copper', () => {
  /** Gauge, circular mils, diameter in inches: the table of "Lessons in Electric Circuits", Reference. */
  const GAUGES: readonly (readonly [number, number, number])[] = [
    [-3, 211_600, 0.46],
    [0, 105_500, 0.3249],
    [2, 66_370, 0.2576],
    [4, 41_740, 0.2043],
    [6, 26_250, 0.162],
    [8, 16_510, 0.1285],
    [10, 10_380, 0.1019],
    [12, 6_530, 0.08081],
    [14, 4_107, 0.06408],
  ]
  it.each(GAUGES)('gauge %d has %d circular mils and %d in', (gauge, mils, inches) => {
    expect(Math.abs(circularMils(gauge) / mils - 1)).toBeLessThan(0.001)
    expect(Math.abs(awgDiameterMm(gauge) / 25.4 / inches - 1)).toBeLessThan(0.001)
  })

  /** NEC chapter 9, table 8, solid uncoated copper at 75 °C, Ω/1000 ft. */
  it.each([
    [14, 3.07],
    [12, 1.93],
    [10, 1.21],
    [8, 0.764],
  ])('gauge %d has %d ohm in 1,000 ft', (gauge, ohm) => {
    expect(Math.abs((ohmPerKm(gauge) * 0.3048) / ohm - 1)).toBeLessThan(0.005)
  })

  it('has 0.8224 of its resistance at 20 °C', () => {
    expect(ohmAt(1.24, 20)).toBeCloseTo(1.01971, 5)
  })

  it('loses 2.976 V at 12 A over 100 ft of stranded 10 AWG, 5.952 V at 8 A over 300 ft', () => {
    const stranded = (1.24 / 304.8) * 1000
    expect(voltageDrop(12, 30.48, stranded)).toBeCloseTo(2.976, 3)
    expect(voltageDrop(8, 91.44, stranded)).toBeCloseTo(5.952, 3)
  })
})

/** Definitions: Lorenzo 2003, as in the R package SolMultinomClass. */
describe('loss of load', () => {
  const series = fc.array(
    fc.tuple(fc.double({ min: 0, max: 5, noNaN: true }), fc.double({ min: 0.1, max: 5, noNaN: true })),
    {
      minLength: 1,
      maxLength: 60,
    },
  )

  it('lies between 0 and 1, and falls as array or storage grow', () => {
    fc.assert(
      fc.property(series, fc.double({ min: 0, max: 20, noNaN: true }), (days, storage) => {
        const load = days.map(([, asked]) => asked)
        const sun = days.map(([given]) => given)
        const llp = lossOfLoad(sun, load, storage).llp
        expect(llp).toBeGreaterThanOrEqual(0)
        expect(llp).toBeLessThanOrEqual(1)
        expect(lossOfLoad(sun, load, storage + 1).llp).toBeLessThanOrEqual(llp + 1e-12)
        const more = sun.map((wh) => wh * 1.3)
        expect(lossOfLoad(more, load, storage).llp).toBeLessThanOrEqual(llp + 1e-12)
      }),
    )
  })

  it('is 1 − CA without storage where generation never exceeds load', () => {
    fc.assert(
      fc.property(series, (days) => {
        const load = days.map(([, asked]) => asked)
        const sun = days.map(([given, asked]) => Math.min(given, asked))
        const { ca, llp } = lossOfLoad(sun, load, 0)
        expect(llp).toBeCloseTo(1 - ca, 9)
      }),
    )
  })
})
