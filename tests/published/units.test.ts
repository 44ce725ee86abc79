/**
 * Units that people may write, against NIST Special Publication 811 (2008), Guide for the Use of the SI, Appendix B.8
 * "Factors for units listed alphabetically" (seven significant digits), and against the exact definitions that it
 * rests on. The figures of SP 811 are quoted from memory where the note says so.
 */
import { describe, expect, it } from 'vitest'
import { readQuantity } from '../../src/config/quantity.js'
import { DIMENSIONS, type Dimension, findUnit, UNITS } from '../../src/config/units.js'
import { payloadUnit, payloadUnitNames } from '../../src/model/payload-units.js'
import { ROLES } from '../../src/model/roles.js'

const value = (text: string, dimension: Dimension): number => {
  const read = readQuantity(text, dimension)
  if (!read.ok) throw new Error(`${text}: ${read.message}`)
  return read.value
}

/** [written, dimension, SI value]. SP 811 prints m³, m, Pa, W, m³/s; here in the units of the program. */
const SP_811: readonly (readonly [string, Dimension, number])[] = [
  ['1 gal', 'volume', 3.785412],
  ['1 imp gal', 'volume', 4.54609],
  ['1 ft3', 'volume', 28.31685],
  ['1 qt', 'volume', 0.9463529],
  ['1 ft', 'length', 0.3048],
  ['1 in', 'length', 0.0254],
  ['1 yd', 'length', 0.9144],
  ['1 psi', 'pressure', 6894.757],
  ['1 bar', 'pressure', 1e5],
  ['1 mbar', 'pressure', 100],
  ['1 hp', 'power', 745.6999],
  ['1 gpm', 'flow', 0.0630902],
  ['1 kWh', 'energy', 1000],
  ['1 d', 'duration', 86_400],
  ['1 h', 'duration', 3600],
  ['1 deg', 'angle', 1],
]

describe('units against NIST SP 811, appendix B.8', () => {
  it.each(SP_811)('%s is within the seven digits that the table prints', (text, dimension, expected) => {
    expect(Math.abs(value(text, dimension) / expected - 1)).toBeLessThan(2e-7)
  })

  it('takes the gallon, the foot and the inch from their exact definitions', () => {
    // 231 cubic inches; 0.3048 m; 25.4 mm (international yard and pound agreement, as in SP 811 B.6).
    expect(value('1 gal', 'volume')).toBeCloseTo(231 * 2.54 ** 3 * 1e-3, 12)
    expect(value('1 ft', 'length')).toBe(0.3048)
    expect(value('12 in', 'length')).toBe(0.3048)
  })

  it('converts degrees Fahrenheit by SP 811: (t − 32) / 1.8', () => {
    expect(value('32 degF', 'temperature')).toBe(0)
    expect(value('212 degF', 'temperature')).toBe(100)
    expect(value('-40 degF', 'temperature')).toBe(-40)
    expect(value('14 degF', 'temperature')).toBe(-10)
    expect(value('98.6 degF', 'temperature')).toBe(37)
    expect(value('273.15 K', 'temperature')).toBe(0)
  })

  it('keeps a difference of temperature free of the offset', () => {
    expect(value('9 degF', 'temperature-difference')).toBe(5)
    expect(value('0 degF', 'temperature-difference')).toBe(0)
  })

  it('derives electrical and composite units from the SI', () => {
    expect(value('250 mA', 'current')).toBe(0.25)
    expect(value('3700 mV', 'voltage')).toBe(3.7)
    expect(value('3600 J', 'energy')).toBe(1)
    expect(value('6 l/min', 'flow')).toBe(0.1)
    expect(value('3.6 m3/h', 'flow')).toBe(1)
    expect(value('1 kWh/m3', 'energy-per-volume')).toBe(1)
    expect(value('3.785411784 Wh/gal', 'energy-per-volume')).toBe(1)
    expect(value('5 %', 'share')).toBe(0.05)
  })

  it('agrees with the table by which payloads are converted, for every unit that both know', () => {
    const dimensions: Record<string, Dimension> = {
      m: 'length',
      A: 'current',
      V: 'voltage',
      'l/s': 'flow',
      l: 'volume',
      Cel: 'temperature',
      '%RH': 'humidity',
      Pa: 'pressure',
    }
    let compared = 0
    for (const si of new Set(Object.values(ROLES).map((role) => role.unit))) {
      const dimension = dimensions[si]
      if (dimension === undefined) continue
      for (const name of payloadUnitNames(si)) {
        const ours = findUnit(dimension, name)
        const theirs = payloadUnit(si, name)
        if (ours === null || theirs === null) continue
        compared++
        expect(Math.abs(ours.factor / theirs.scale - 1), name).toBeLessThan(1e-7)
        expect(Math.abs(ours.offset - theirs.offset), name).toBeLessThan(1e-9)
      }
    }
    expect(compared).toBeGreaterThan(20)
  })

  it('has no spelling that means two units of one dimension', () => {
    for (const dimension of DIMENSIONS) {
      const spellings = UNITS[dimension].flatMap((unit) => [unit.name, ...unit.aliases])
      expect(new Set(spellings).size, dimension).toBe(spellings.length)
    }
  })
})
