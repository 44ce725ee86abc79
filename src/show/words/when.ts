/** Instants as people at the site read them. Pure; the time zone is always the site's, never the reader's. */
import type { Ms } from '../../model/time.js'

const formats = new Map<string, Intl.DateTimeFormat>()

function format(timeZone: string, name: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = `${timeZone} ${name}`
  let found = formats.get(key)
  if (found === undefined) {
    found = new Intl.DateTimeFormat('en-US', { timeZone, ...options })
    formats.set(key, found)
  }
  return found
}

/** "14:05". */
export function clock(t: Ms, timeZone: string): string {
  return format(timeZone, 'clock', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }).format(t)
}

/** "Tue 3 Feb". */
export function day(t: Ms, timeZone: string): string {
  const parts = format(timeZone, 'day', { weekday: 'short', day: 'numeric', month: 'short' }).formatToParts(t)
  const part = (type: string): string => parts.find((one) => one.type === type)?.value ?? ''
  return `${part('weekday')} ${part('day')} ${part('month')}`
}

/** YYYY-MM-DD in the zone. */
export function dateKey(t: Ms, timeZone: string): string {
  const parts = format(timeZone, 'date', { year: 'numeric', month: '2-digit', day: '2-digit' }).formatToParts(t)
  const part = (type: string): string => parts.find((one) => one.type === type)?.value ?? ''
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`
}

/** "14:05" when it is the same day at the site as `now`, else "Tue 3 Feb 14:05". */
export function moment(t: Ms, now: Ms, timeZone: string): string {
  return dateKey(t, timeZone) === dateKey(now, timeZone)
    ? clock(t, timeZone)
    : `${day(t, timeZone)} ${clock(t, timeZone)}`
}
