/** Quantities as the page says them: as everywhere in the program, but with "not known" where nothing is known. */
import type { QuantityKind } from '../../model/alarm.js'
import { formatDuration, formatQuantity } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import { SECOND } from '../../model/time.js'

export const NOT_KNOWN = 'not known'

/** SI in, the site's units out; the unit stays on the line of its number. */
export function quantity(kind: QuantityKind, value: number | null, units: UnitSystem): string {
  if (value === null || !Number.isFinite(value)) return NOT_KNOWN
  return formatQuantity(kind, value, units).replaceAll(' ', '\u00a0')
}

/** A span in seconds, in words. */
export function duration(seconds: number): string {
  return formatDuration(seconds * SECOND).replaceAll(' ', '\u00a0')
}
