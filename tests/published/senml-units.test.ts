/**
 * Units: RFC 8428 section 12.1, RFC 8798 section 3 (secondary units: `primary = value * scale + offset`; factors as
 * in draft-ietf-core-senml-more-units-06, the text that became the RFC), and the units of the trade by NIST SP 811
 * appendix B.8.
 */
import { describe, expect, it } from 'vitest'
import { payloadUnit, payloadUnitNames, standardUnit } from '../../src/model/payload-units.js'
import { ROLES, ROLE_IDS } from '../../src/model/roles.js'

function to(si: string, unit: string, value: number): number {
  const conversion = payloadUnit(si, unit)
  if (conversion === null) throw new Error(`no conversion from ${unit} to ${si}`)
  return value * conversion.scale + conversion.offset
}

describe('RFC 8798 secondary units', () => {
  it.each([
    ['m', 'mm', 1000, 1],
    ['m', 'cm', 100, 1],
    ['m', 'km', 1, 1000],
    ['V', 'mV', 1000, 1],
    ['A', 'mA', 1000, 1],
    ['Pa', 'hPa', 1, 100],
  ])('%s from %s: %d is %d', (si, unit, value, expected) => {
    expect(to(si, unit, value)).toBeCloseTo(expected, 12)
    expect(standardUnit(si, unit)).not.toBeNull()
  })
})

describe('RFC 8428 units', () => {
  it.each([
    ['Cel', 'K', 273.15, 0],
    ['l/s', 'm3/s', 0.001, 1],
    ['l', 'm3', 1, 1000],
  ])('%s from %s: %d is %d', (si, unit, value, expected) => {
    expect(to(si, unit, value)).toBeCloseTo(expected, 12)
    expect(standardUnit(si, unit)).not.toBeNull()
  })

  it('the SI unit of every role is read as it stands, and a record without a unit is taken as SI', () => {
    for (const role of ROLE_IDS) {
      expect(standardUnit(ROLES[role].unit, ROLES[role].unit)).toEqual({ scale: 1, offset: 0 })
      expect(standardUnit(ROLES[role].unit, '')).toEqual({ scale: 1, offset: 0 })
    }
  })

  it.each(['degF', 'psi', 'gal', 'gpm', 'in', 'ft', '%', 'degC', 'bar', 'kPa'])(
    'the registry has no %s, so no SenML record may use it',
    (unit) => {
      for (const role of ROLE_IDS) expect(standardUnit(ROLES[role].unit, unit)).toBeNull()
    },
  )

  it.each([
    ['V', 'A'],
    ['A', 'V'],
    ['m', 'Cel'],
    ['Cel', 'm'],
    ['V', 'v'],
    ['Cel', 'C'],
    ['', 'V'],
    ['m', 'constructor'],
    ['m', '__proto__'],
  ])('%s is never made from %s', (si, unit) => {
    expect(payloadUnit(si, unit)).toBeNull()
  })
})

describe('NIST SP 811 appendix B.8', () => {
  it.each([
    ['m', 'in', 1, 2.54e-2],
    ['m', 'ft', 1, 3.048e-1],
    ['l', 'gal', 1, 3.785412],
    ['l', 'ft3', 1, 28.31685],
    ['l/s', 'gpm', 1, 6.30902e-2],
    ['Pa', 'psi', 1, 6.894757e3],
    ['Pa', 'bar', 1, 1e5],
    ['Pa', 'kPa', 1, 1e3],
    ['Cel', 'degF', 212, 100],
    ['Cel', 'degF', 32, 0],
    ['Cel', 'degF', -40, -40],
  ])('%s from %s: %d is %d', (si, unit, value, expected) => {
    const found = to(si, unit, value)
    expect(Math.abs(found - expected)).toBeLessThanOrEqual(1e-6 * Math.max(1, Math.abs(expected)))
  })

  it('every unit that is named to people can be converted', () => {
    for (const role of ROLE_IDS) {
      const names = payloadUnitNames(ROLES[role].unit)
      expect(names.length).toBeGreaterThan(0)
      for (const name of names) expect(payloadUnit(ROLES[role].unit, name)).not.toBeNull()
    }
  })
})
