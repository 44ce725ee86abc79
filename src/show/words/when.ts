/** Instants as people at the site read them. Pure; the time zone is always the site's, never the reader's. */
import { formatLocalClock, formatLocalTime } from '../../model/format.js'
import type { Ms } from '../../model/time.js'

/** YYYY-MM-DD in the zone. */
export function dateKey(t: Ms, timeZone: string): string {
  const format = new Intl.DateTimeFormat('en-US', { timeZone, year: 'numeric', month: '2-digit', day: '2-digit' })
  const parts = format.formatToParts(t)
  const part = (type: string): string => parts.find((one) => one.type === type)?.value ?? ''
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`
}

/** "14:05" when it is the same day at the site as `now`, else "Tue 3 Feb 14:05". */
export function moment(t: Ms, now: Ms, timeZone: string): string {
  return dateKey(t, timeZone) === dateKey(now, timeZone) ? formatLocalClock(t, timeZone) : formatLocalTime(t, timeZone)
}
