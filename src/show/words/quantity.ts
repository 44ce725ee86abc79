/**
 * Quantities as people read them, in the site's units. SI comes in, text goes out; unknown is "not known", never 0.
 * Pure: the page's bundle and the server share it. Factors are exact by definition (NIST SP 811, App. B):
 * US gal = 3.785411784 l, ft = 0.3048 m.
 */
import type { QuantityKind } from '../../model/alarm.js'
import type { UnitSystem } from '../../model/settings.js'

export const GALLON_L = 3.785411784
export const FOOT_M = 0.3048
export const NOT_KNOWN = 'not known'

/** A number with so many decimals, thousands marked, and no "-0". */
export function plain(value: number, decimals: number): string {
  const text = value.toLocaleString('en-US', { minimumFractionDigits: decimals, maximumFractionDigits: decimals })
  return /^-[0.,]*$/.test(text) ? text.slice(1) : text
}

/** Three figures that matter, as far as they go: 4.37, 43.7, 437. */
function three(value: number): string {
  const size = Math.abs(value)
  return plain(value, size < 10 ? 2 : size < 100 ? 1 : 0)
}

/** A length of time in words: "40 s", "51 min", "2 h 5 min", "9 days". */
export function duration(seconds: number): string {
  const s = Math.abs(seconds)
  if (s < 90) return `${plain(s, 0)} s`
  const minutes = Math.round(s / 60)
  if (minutes < 120) return `${minutes} min`
  const hours = Math.round(s / 3600)
  if (minutes < 24 * 60) {
    const rest = minutes % 60
    return rest === 0 ? `${Math.floor(minutes / 60)} h` : `${Math.floor(minutes / 60)} h ${rest} min`
  }
  if (hours < 48) return `${hours} h`
  const days = s / 86_400
  return `${plain(days, days < 10 ? 1 : 0).replace(/\.0$/, '')} days`
}

/** Converts an SI value into the number and unit that people are shown. */
export function shown(kind: QuantityKind, value: number, units: UnitSystem): { value: number; unit: string } {
  const us = units === 'us'
  switch (kind) {
    case 'length':
    case 'level':
      return us ? { value: value / FOOT_M, unit: 'ft' } : { value, unit: 'm' }
    case 'volume':
      return us ? { value: value / GALLON_L, unit: 'gal' } : { value, unit: 'l' }
    case 'flow':
      return us ? { value: value / GALLON_L, unit: 'gal/min' } : { value, unit: 'l/min' }
    case 'energy-per-volume':
      return us ? { value: value * GALLON_L, unit: 'Wh/gal' } : { value, unit: 'Wh/l' }
    case 'temperature':
      return us ? { value: value * 1.8 + 32, unit: '°F' } : { value, unit: '°C' }
    case 'voltage':
      return { value, unit: 'V' }
    case 'current':
      return { value, unit: 'A' }
    case 'power':
      return { value, unit: 'W' }
    case 'energy':
      return { value, unit: 'Wh' }
    case 'duration':
      return { value, unit: 's' }
    case 'ratio':
      return { value: value * 100, unit: '%' }
    case 'count':
      return { value, unit: '' }
  }
}

const DECIMALS: Partial<Record<QuantityKind, number>> = {
  length: 2,
  level: 2,
  volume: 0,
  voltage: 1,
  temperature: 0,
  ratio: 0,
  count: 0,
}

/** A quantity with its unit, or "not known". */
export function quantity(kind: QuantityKind, value: number | null, units: UnitSystem): string {
  if (value === null || !Number.isFinite(value)) return NOT_KNOWN
  if (kind === 'duration') return duration(value)
  const { value: number, unit } = shown(kind, value, units)
  const decimals = DECIMALS[kind]
  const text = decimals === undefined ? three(number) : plain(number, decimals)
  return unit === '' ? text : `${text}\u00a0${unit}`
}
