/** How people read what each role measures. */
import type { QuantityKind } from '../../model/alarm.js'
import { toPeople } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'

/** `factor`: from the role's SI unit to the one that the kind is formatted from. */
type Reading = { readonly kind: QuantityKind; readonly factor: number }

const BY_UNIT: Readonly<Record<string, Reading>> = {
  m: { kind: 'length', factor: 1 },
  V: { kind: 'voltage', factor: 1 },
  A: { kind: 'current', factor: 1 },
  Cel: { kind: 'temperature', factor: 1 },
  'l/s': { kind: 'flow', factor: 60 },
  l: { kind: 'volume', factor: 1 },
  '%RH': { kind: 'ratio', factor: 0.01 },
  Pa: { kind: 'pressure', factor: 1 },
}

/** Null for contacts: they are wet or dry, yes or no. */
export function readingOf(role: string, unit: string): Reading | null {
  if (role === 'tank-level') return { kind: 'level', factor: 1 }
  return BY_UNIT[unit] ?? null
}

/** What one people's unit of this reading is in the role's SI unit, and where its zero lies. */
export function peopleUnit({ kind, factor }: Reading, units: UnitSystem): { unit: string; si: number; zero: number } {
  const at = (si: number): number => toPeople(kind, si * factor, units).value
  const slope = at(1) - at(0)
  return { unit: toPeople(kind, 0, units).unit, si: 1 / slope, zero: -at(0) / slope }
}
