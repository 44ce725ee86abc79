import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { readQuantity } from '../../src/config/quantity.js'
import { DIMENSIONS, type Dimension, UNITS } from '../../src/config/units.js'

const GOOD: readonly (readonly [string, Dimension, number])[] = [
  ['180 ft', 'length', 54.864],
  ['180ft', 'length', 54.864],
  ['  180   feet  ', 'length', 54.864],
  ['5 ft 6 in', 'length', 1.6764],
  ['-5 ft 6 in', 'length', -1.6764],
  ['5 ft 1/2 in', 'length', 1.5367],
  ['3/4 in', 'length', 0.01905],
  ['1 1/2 in', 'length', 0.0381],
  ['.5 m', 'length', 0.5],
  ['+2 m', 'length', 2],
  ['1e2 cm', 'length', 1],
  ['70 gal', 'volume', 264.97882488],
  ['70 US gal', 'volume', 264.97882488],
  ['70 gallons', 'volume', 264.97882488],
  ['1 m³', 'volume', 1000],
  ['24 V', 'voltage', 24],
  ['4.5 A', 'current', 4.5],
  ['160 Ah', 'charge', 160],
  ['30 s', 'duration', 30],
  ['1 h 30 min', 'duration', 5400],
  ['400 days', 'duration', 34_560_000],
  ['-4 degF', 'temperature', -20],
  ['-4 °F', 'temperature', -20],
  ['45 deg', 'angle', 45],
  ['45°', 'angle', 45],
  ['50 %', 'humidity', 50],
  ['0 m', 'length', 0],
]

const BAD: readonly (readonly [unknown, Dimension, RegExp])[] = [
  [undefined, 'length', /is needed/],
  [180, 'length', /needs a unit/],
  ['180', 'length', /needs a unit/],
  ['1.5', 'length', /needs a unit/],
  ['1/2', 'length', /needs a unit/],
  ['', 'length', /is empty/],
  ['   ', 'length', /is empty/],
  ['ft', 'length', /is no length/],
  ['ft 3', 'length', /is no length/],
  ['180 V', 'length', /unit of a voltage, where a length is due/],
  ['24 Ah', 'voltage', /unit of a charge, where a voltage is due/],
  ['24 v', 'voltage', /unknown unit "v"/],
  ['24 furlong', 'length', /unknown unit "furlong"/],
  ['12,6 V', 'voltage', /comma/],
  ['1,200 gal', 'volume', /comma/],
  ['1.2.3 m', 'length', /is no length/],
  ['--3 m', 'length', /is no length/],
  ['3 m,', 'length', /is no length/],
  ['3 m extra', 'length', /is no length|unknown unit/],
  ['5 ft -6 in', 'length', /is no length/],
  ['20 V 3 V', 'voltage', /is no voltage/],
  ['3 degF 2 degF', 'temperature', /is no temperature/],
  ['1e999 m', 'length', /finite/],
  ['1/0 m', 'length', /finite/],
  ['NaN m', 'length', /is no length/],
  ['Infinity m', 'length', /is no length/],
  ['0x10 m', 'length', /unknown unit|is no length/],
  [true, 'length', /is no length/],
  [{}, 'length', /is no length/],
  [[1, 'm'], 'length', /is no length/],
]

describe('a quantity', () => {
  it.each(GOOD)('%j as a %s is %d in SI', (text, dimension, expected) => {
    expect(readQuantity(text, dimension)).toEqual({ ok: true, value: expected })
  })

  it.each(BAD)('%j is no %s', (text, dimension, message) => {
    const read = readQuantity(text, dimension)
    expect(read.ok).toBe(false)
    if (!read.ok) expect(read.message).toMatch(message)
  })

  it('names the accepted units, and an example, where the unit is missing', () => {
    const read = readQuantity(180, 'length')
    expect(read).toMatchObject({ expected: 'a length with its unit (m, cm, mm, km, ft, in, yd)' })
    expect(read).toMatchObject({ hint: 'write for example "180 m", with the quotes' })
  })

  it('offers the spelling where only capitals differ', () => {
    expect(readQuantity('3 PSI', 'pressure')).toMatchObject({ hint: 'did you mean "psi"? capitals count' })
  })

  it('keeps to its limits, and tells them in the unit that was written', () => {
    const bounds = { above: 0, max: 30.48 }
    expect(readQuantity('100 ft', 'length', bounds)).toMatchObject({ ok: true })
    expect(readQuantity('101 ft', 'length', bounds)).toMatchObject({
      message: 'is too large',
      expected: 'more than 0 ft and at most 100 ft',
    })
    expect(readQuantity('0 ft', 'length', bounds)).toMatchObject({ message: 'is too small' })
    expect(readQuantity('-5 degF', 'temperature', { min: 0 })).toMatchObject({ expected: 'at least 32 degF' })
  })

  it('reads back every number in every unit to within twelve digits', () => {
    const unit = fc.constantFrom(...DIMENSIONS.flatMap((d) => UNITS[d].map((u) => ({ dimension: d, unit: u }))))
    const number = fc.double({ min: -1e6, max: 1e6, noNaN: true })
    fc.assert(
      fc.property(unit, number, ({ dimension, unit: entry }, given) => {
        const read = readQuantity(`${given} ${entry.name}`, dimension)
        expect(read.ok).toBe(true)
        if (!read.ok) return
        const expected = given * entry.factor + entry.offset
        expect(Math.abs(read.value - expected)).toBeLessThanOrEqual(1e-11 * Math.abs(expected) + 1e-11)
      }),
    )
  })

  it('never throws, whatever is written', () => {
    fc.assert(
      fc.property(fc.oneof(fc.string(), fc.anything()), fc.constantFrom(...DIMENSIONS), (input, dimension) => {
        const read = readQuantity(input, dimension)
        if (read.ok) expect(Number.isFinite(read.value)).toBe(true)
        else expect(read.expected).not.toBe('')
      }),
    )
  })
})
