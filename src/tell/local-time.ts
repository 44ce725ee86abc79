/**
 * Local wall-clock arithmetic for quiet hours and daily digests, right across the two nights a year when a local
 * day has 23 or 25 hours. Everything is answered as an instant; nothing is ever scheduled by a wall-clock string.
 */
import { DAY, MINUTE, type Ms } from '../model/time.js'

export type LocalDate = { readonly year: number; readonly month: number; readonly day: number }

const MINUTES_PER_DAY = 1_440

/** Making a formatter costs far more than using it. Bounded by the number of time zones that exist. */
const wallClocks = new Map<string, Intl.DateTimeFormat>()
const zoneNames = new Map<string, Intl.DateTimeFormat>()

function wallClockFor(timezone: string): Intl.DateTimeFormat {
  const known = wallClocks.get(timezone)
  if (known !== undefined) return known
  const made = new Intl.DateTimeFormat('en-US', {
    timeZone: timezone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  })
  wallClocks.set(timezone, made)
  return made
}

/** The wall clock at an instant, written as if it were UTC, to the second. */
function wallMs(at: Ms, timezone: string): Ms {
  const parts: Record<string, number> = {}
  for (const { type, value } of wallClockFor(timezone).formatToParts(at)) parts[type] = Number(value)
  const { year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0 } = parts
  return Date.UTC(year, month - 1, day, hour, minute, second)
}

/** Local time less UTC, whole seconds in milliseconds (a zone before it had a standard time may carry seconds). */
function offsetMs(at: Ms, timezone: string): number {
  return wallMs(at, timezone) - Math.floor(at / 1_000) * 1_000
}

/** Minutes after local midnight by the wall clock, 0…1439. */
export function localMinute(at: Ms, timezone: string): number {
  const wall = new Date(wallMs(at, timezone))
  return wall.getUTCHours() * 60 + wall.getUTCMinutes()
}

/** The site's own calendar date at an instant. */
export function localDate(at: Ms, timezone: string): LocalDate {
  const wall = new Date(wallMs(at, timezone))
  return { year: wall.getUTCFullYear(), month: wall.getUTCMonth() + 1, day: wall.getUTCDate() }
}

/**
 * Every instant at which the wall clock of a date shows `minute`: one on an ordinary day, two where the clock is set
 * back over it, and where the clock is set forward over it the instant of the jump.
 */
function instantsOf(date: LocalDate, minute: number, timezone: string): readonly Ms[] {
  const wall = Date.UTC(date.year, date.month - 1, date.day) + minute * MINUTE
  const before = offsetMs(wall - DAY, timezone)
  const after = offsetMs(wall + DAY, timezone)
  const found = [...new Set([wall - before, wall - after])].filter((at) => wallMs(at, timezone) === wall)
  if (found.length > 0) return found.sort((a, b) => a - b)
  let at = wall - after
  for (let step = 0; step < MINUTES_PER_DAY && offsetMs(at, timezone) !== after; step += 1) at += MINUTE
  return [at]
}

/** The date and the two days around it, as dates of the calendar. */
function datesAround(at: Ms, timezone: string): readonly LocalDate[] {
  const { year, month, day } = localDate(at, timezone)
  return [0, 1, 2].map((more) => {
    const date = new Date(Date.UTC(year, month - 1, day + more))
    return { year: date.getUTCFullYear(), month: date.getUTCMonth() + 1, day: date.getUTCDate() }
  })
}

/** The next instant after `at` at which the wall clock shows `minute`, counting both passes of a repeated hour. */
export function nextLocalMinute(at: Ms, minute: number, timezone: string): Ms {
  const next = datesAround(at, timezone)
    .flatMap((date) => instantsOf(date, minute, timezone))
    .filter((instant) => instant > at)
  return Math.min(...next)
}

/** The next instant after `at` of something that happens once a local day at `minute`: the first pass only. */
export function nextDaily(at: Ms, minute: number, timezone: string): Ms {
  const next = datesAround(at, timezone)
    .map((date) => Math.min(...instantsOf(date, minute, timezone)))
    .filter((instant) => instant > at)
  return Math.min(...next)
}

/** The zone in force at an instant, as people know it: "America/Denver (MST)". */
export function zoneWords(at: Ms, timezone: string): string {
  let names = zoneNames.get(timezone)
  if (names === undefined) {
    names = new Intl.DateTimeFormat('en-US', { timeZone: timezone, timeZoneName: 'short' })
    zoneNames.set(timezone, names)
  }
  const short = names.formatToParts(at).find((part) => part.type === 'timeZoneName')?.value
  return short === undefined || short === timezone ? timezone : `${timezone} (${short})`
}
