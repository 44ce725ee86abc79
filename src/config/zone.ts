/** Local calendar dates of a site as instants. */
import { DAY, MINUTE, type Ms } from '../model/time.js'

/** How far the zone's clocks are ahead of UTC at an instant. */
function aheadMs(timezone: string, at: Ms): number {
  const parts = new Intl.DateTimeFormat('en-US', {
    timeZone: timezone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  }).formatToParts(at)
  const part = (type: string): number => Number(parts.find((entry) => entry.type === type)?.value)
  const local = Date.UTC(part('year'), part('month') - 1, part('day'), part('hour'), part('minute'), part('second'))
  return local - Math.floor(at / 1000) * 1000
}

/**
 * The instant of a local time. A time that the clocks skip in spring is taken as if they had not yet been put on;
 * one that they show twice in autumn is the first.
 */
export function localToMs(timezone: string, localMs: Ms): Ms {
  const before = localMs - aheadMs(timezone, localMs - DAY)
  const after = localMs - aheadMs(timezone, localMs + DAY)
  const fits = [before, after].filter((at) => at + aheadMs(timezone, at) === localMs)
  return fits.length > 0 ? Math.min(...fits) : before
}

/** `2026-01-31` or `2026-01-31 14:00` read as if it were UTC, and whether it is a whole day; null: no such date. */
export function readLocalDate(text: string): { readonly localMs: Ms; readonly wholeDay: boolean } | null {
  const match = /^(\d{4})-(\d{2})-(\d{2})(?:[T ](\d{2}):(\d{2}))?$/.exec(text)
  if (match === null) return null
  const [, year, month, day, hour, minute] = match
  const date = Date.UTC(Number(year), Number(month) - 1, Number(day))
  if (new Date(date).toISOString().slice(0, 10) !== `${year}-${month}-${day}`) return null
  if (hour === undefined || minute === undefined) return { localMs: date, wholeDay: true }
  if (Number(hour) > 23 || Number(minute) > 59) return null
  return { localMs: date + (Number(hour) * 60 + Number(minute)) * MINUTE, wholeDay: false }
}

/** The first and last moment of an entry of the calendar; null where a date does not exist. */
export function absence(timezone: string, from: string, to: string): readonly [Ms, Ms] | null {
  const first = readLocalDate(from)
  const last = readLocalDate(to)
  if (first === null || last === null) return null
  const end = last.wholeDay ? last.localMs + DAY : last.localMs
  return [localToMs(timezone, first.localMs), localToMs(timezone, end)]
}
