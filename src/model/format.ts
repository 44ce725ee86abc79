/**
 * Numbers, spans and times as people read them. One place, so that a message, the page and a report say the same
 * figure the same way. Input is SI as the rest of the program keeps it; unknown is the word "unknown", never 0.
 */
import type { QuantityKind } from './alarm.js'
import type { UnitSystem } from './settings.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from './time.js'

/** What an unknown figure is called. */
export const UNKNOWN_WORD = 'unknown'

/** Exact by definition: the international foot, and the US gallon of 231 cubic inches (NIST SP 811, App. B). */
const METRES_PER_FOOT = 0.3048
const METRES_PER_INCH = 0.0254
const LITRES_PER_GALLON = 3.785411784
/** Pound-force on a square inch: 0.45359237 kg · 9.80665 m/s² / (0.0254 m)² (NIST SP 811, App. B). */
const PASCALS_PER_PSI = (0.45359237 * 9.80665) / METRES_PER_INCH ** 2

type Unit = { readonly name: string; readonly digits: number; readonly of: (si: number) => number }

const same = (si: number) => si
const volt: Unit = { name: 'V', digits: 2, of: same }
const ampere: Unit = { name: 'A', digits: 2, of: same }
const watt: Unit = { name: 'W', digits: 0, of: same }
const wattHour: Unit = { name: 'Wh', digits: 0, of: same }
const percent: Unit = { name: '%', digits: 0, of: (si) => si * 100 }
const count: Unit = { name: '', digits: 0, of: same }

type PlainKind = Exclude<QuantityKind, 'duration'>

/** What is taken in is given by the SI column: m, l, l/min, V, A, W, Wh, Wh/l, °C, Pa, 0…1, pieces. */
const UNITS: Record<UnitSystem, Record<PlainKind, Unit>> = {
  si: {
    length: { name: 'm', digits: 1, of: same },
    level: { name: 'cm', digits: 1, of: (m) => m * 100 },
    volume: { name: 'l', digits: 0, of: same },
    flow: { name: 'l/min', digits: 1, of: same },
    voltage: volt,
    current: ampere,
    power: watt,
    energy: wattHour,
    'energy-per-volume': { name: 'Wh/l', digits: 2, of: same },
    temperature: { name: '°C', digits: 1, of: same },
    pressure: { name: 'kPa', digits: 0, of: (pa) => pa / 1_000 },
    ratio: percent,
    count,
  },
  us: {
    length: { name: 'ft', digits: 1, of: (m) => m / METRES_PER_FOOT },
    level: { name: 'in', digits: 1, of: (m) => m / METRES_PER_INCH },
    volume: { name: 'gal', digits: 0, of: (l) => l / LITRES_PER_GALLON },
    flow: { name: 'gal/min', digits: 1, of: (l) => l / LITRES_PER_GALLON },
    voltage: volt,
    current: ampere,
    power: watt,
    energy: wattHour,
    'energy-per-volume': { name: 'Wh/gal', digits: 1, of: (perL) => perL * LITRES_PER_GALLON },
    temperature: { name: '°F', digits: 0, of: (c) => c * 1.8 + 32 },
    pressure: { name: 'psi', digits: 0, of: (pa) => pa / PASCALS_PER_PSI },
    ratio: percent,
    count,
  },
}

/** A figure in the unit people read, with the unit's name, for axes and tables. `duration` stays in seconds. */
export function toPeople(kind: QuantityKind, si: number, units: UnitSystem): { value: number; unit: string } {
  if (kind === 'duration') return { value: si, unit: 's' }
  const unit = UNITS[units][kind]
  return { value: unit.of(si), unit: unit.name }
}

/**
 * A quantity in words: "3.9 A" style, in the site's units.
 *
 * @param kind chooses unit and rounding
 * @param si the value: m, l, l/min, V, A, W, Wh, Wh/l, °C, seconds (duration), 0…1 (ratio), pieces (count)
 * @param units what people at this site read
 * @returns "unknown" for null and for what is not a finite number
 */
export function formatQuantity(kind: QuantityKind, si: number | null, units: UnitSystem): string {
  if (si === null || !Number.isFinite(si)) return UNKNOWN_WORD
  if (kind === 'duration') return formatDuration(si * SECOND)
  const unit = UNITS[units][kind]
  const number = formatNumber(unit.of(si), unit.digits)
  return unit.name === '' ? number : `${number} ${unit.name}`
}

/** Fixed digits, thousands set apart by a comma, and no minus before a zero. */
export function formatNumber(value: number, digits: number): string {
  const fixed = value.toFixed(digits)
  const text = Number(fixed) === 0 ? (0).toFixed(digits) : fixed
  return text.replace(/\B(?=(\d{3})+(?!\d))(?<!\.\d*)/g, ',')
}

/**
 * A span in at most two parts: "45 s", "12 min", "2 h 5 min", "3 d 4 h". Under two minutes in seconds, so that
 * short delays keep their meaning.
 */
export function formatDuration(spanMs: number | null): string {
  if (spanMs === null || !Number.isFinite(spanMs)) return UNKNOWN_WORD
  const span = Math.max(0, spanMs)
  if (span < 2 * MINUTE) return `${Math.round(span / SECOND)} s`
  const minutes = Math.round(span / MINUTE)
  if (minutes < 60) return `${minutes} min`
  if (minutes * MINUTE < DAY) return twoParts(Math.floor(minutes / 60), 'h', minutes % 60, 'min')
  const hours = Math.round(span / HOUR)
  return twoParts(Math.floor(hours / 24), 'd', hours % 24, 'h')
}

function twoParts(large: number, largeName: string, small: number, smallName: string): string {
  return small === 0 ? `${large} ${largeName}` : `${large} ${largeName} ${small} ${smallName}`
}

/** Hours as a person would say them when nothing finer is meant: "about 5 h", "about 3 d", "less than 1 h". */
export function formatAboutHours(hours: number | null): string {
  if (hours === null || !Number.isFinite(hours)) return UNKNOWN_WORD
  if (hours < 1) return 'less than 1 h'
  if (hours < 48) return `about ${Math.round(hours)} h`
  return `about ${Math.round(hours / 24)} d`
}

type LocalParts = Readonly<Record<'weekday' | 'day' | 'month' | 'year' | 'hour' | 'minute', string>>

/** Making a formatter costs far more than using it. Bounded by the number of time zones that exist. */
const formatters = new Map<string, Intl.DateTimeFormat>()

function formatterFor(timezone: string): Intl.DateTimeFormat {
  const known = formatters.get(timezone)
  if (known !== undefined) return known
  const made = new Intl.DateTimeFormat('en-GB', {
    timeZone: timezone,
    hourCycle: 'h23',
    weekday: 'short',
    day: 'numeric',
    month: 'short',
    year: 'numeric',
    hour: '2-digit',
    minute: '2-digit',
  })
  formatters.set(timezone, made)
  return made
}

function localParts(at: Ms, timezone: string): LocalParts {
  const parts = { weekday: '', day: '', month: '', year: '', hour: '', minute: '' }
  for (const part of formatterFor(timezone).formatToParts(at)) {
    if (Object.hasOwn(parts, part.type)) parts[part.type as keyof typeof parts] = part.value
  }
  return parts
}

/**
 * An instant in the site's own time, with its day: "Tue 3 Feb 14:05".
 *
 * @throws RangeError for a time zone that the IANA database does not have
 */
export function formatLocalTime(at: Ms | null, timezone: string): string {
  if (at === null) return UNKNOWN_WORD
  const { weekday, day, month, hour, minute } = localParts(at, timezone)
  return `${weekday} ${day} ${month} ${hour}:${minute}`
}

/** The same with the year, for logs and reports that are read much later: "3 Feb 2026 14:05". */
export function formatLocalDateTime(at: Ms | null, timezone: string): string {
  if (at === null) return UNKNOWN_WORD
  const { day, month, year, hour, minute } = localParts(at, timezone)
  return `${day} ${month} ${year} ${hour}:${minute}`
}

/** The time of day alone: "14:05". */
export function formatLocalClock(at: Ms | null, timezone: string): string {
  if (at === null) return UNKNOWN_WORD
  const { hour, minute } = localParts(at, timezone)
  return `${hour}:${minute}`
}
