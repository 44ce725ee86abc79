/**
 * Units that a payload may be in, and how each becomes the SI unit of a role: `si = value * scale + offset`.
 * The decoder converts by this table; the configuration checks a signal's `unit` against it.
 *
 * Sources: RFC 8428 section 12.1 (units), RFC 8798 section 3 (secondary units); the units of the trade that no
 * registry knows have their exact factors (gallon 231 in³, inch 25.4 mm, pound-force per square inch and feet of
 * water as in NIST SP 811 appendix B.8).
 */

export type UnitConversion = { readonly scale: number; readonly offset: number }

type UnitTable = Readonly<Record<string, UnitConversion>>

const by = (scale: number, offset = 0): UnitConversion => ({ scale, offset })

/** Exact: 231 cubic inches. */
const GALLON_L = 3.785411784

/** What SenML knows: per SI unit of a role, the RFC 8428 and RFC 8798 units that convert to it. */
const STANDARD: Readonly<Record<string, UnitTable>> = {
  m: { m: by(1), mm: by(0.001), cm: by(0.01), km: by(1000) },
  A: { A: by(1), mA: by(0.001) },
  V: { V: by(1), mV: by(0.001) },
  'l/s': { 'l/s': by(1), 'm3/s': by(1000) },
  l: { l: by(1), m3: by(1000) },
  Cel: { Cel: by(1), K: by(1, -273.15) },
  '%RH': { '%RH': by(1) },
  Pa: { Pa: by(1), hPa: by(100) },
}

/** Units that only a mapped signal may use, because its configuration names them. */
const FURTHER: Readonly<Record<string, UnitTable>> = {
  m: { in: by(0.0254), ft: by(0.3048), ftH2O: by(0.3048), inH2O: by(0.0254) },
  A: {},
  V: {},
  'l/s': {
    'l/min': by(1 / 60),
    'l/h': by(1 / 3600),
    'm3/h': by(1000 / 3600),
    gpm: by(GALLON_L / 60),
    'gal/min': by(GALLON_L / 60),
    'gal/h': by(GALLON_L / 3600),
  },
  l: { gal: by(GALLON_L), ft3: by(28.316846592), ml: by(0.001) },
  Cel: { degC: by(1), degF: by(5 / 9, -160 / 9) },
  '%RH': { '%': by(1), '/': by(100) },
  Pa: { kPa: by(1000), bar: by(1e5), mbar: by(100), psi: by(6894.757293168) },
}

/** A contact is true or false; a registry's words for a bare number do no harm to it. */
const CONTACT: UnitTable = { '/': by(1), count: by(1) }

/**
 * How a unit named in a SenML record becomes the SI unit of a role.
 *
 * @param siUnit the role's unit (`ROLES[role].unit`), '' for contacts
 * @param unit the unit in the record; '' means that none was given, which is taken as the SI unit
 * @returns null when the unit does not fit the role
 */
export function standardUnit(siUnit: string, unit: string): UnitConversion | null {
  return find(STANDARD, siUnit, unit)
}

/** As `standardUnit`, with the further units (degF, psi, gal, …) that a mapped signal's configuration may name. */
export function payloadUnit(siUnit: string, unit: string): UnitConversion | null {
  return find(STANDARD, siUnit, unit) ?? find(FURTHER, siUnit, unit)
}

/** Every unit that `payloadUnit` accepts for a role, for messages to people. */
export function payloadUnitNames(siUnit: string): readonly string[] {
  if (siUnit === '') return Object.keys(CONTACT)
  return [...Object.keys(STANDARD[siUnit] ?? {}), ...Object.keys(FURTHER[siUnit] ?? {})]
}

function find(tables: Readonly<Record<string, UnitTable>>, siUnit: string, unit: string): UnitConversion | null {
  if (unit === '' || unit === siUnit) return by(1)
  const table = siUnit === '' ? CONTACT : tables[siUnit]
  return table !== undefined && Object.hasOwn(table, unit) ? (table[unit] ?? null) : null
}
