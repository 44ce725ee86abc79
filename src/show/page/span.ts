/** Spans of time to look back over: which there are, how they move, how their ends are written. Pure. */
import { formatLocalClock, formatLocalDateTime, formatLocalTime } from '../../model/format.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import { dayAround } from '../report/period.js'

/** `live`: its end is now and goes on with it. */
export type Span = { readonly from: Ms; readonly to: Ms; readonly live: boolean }

export const SPANS: readonly { readonly words: string; readonly ms: Ms }[] = [
  { words: '1 hour', ms: HOUR },
  { words: '6 hours', ms: 6 * HOUR },
  { words: '1 day', ms: DAY },
  { words: '1 week', ms: 7 * DAY },
  { words: '1 month', ms: 30 * DAY },
  { words: '1 year', ms: 365 * DAY },
  { words: '4 years', ms: 1_461 * DAY },
]

export const USUAL_SPAN_MS = DAY
const SPAN_MAX_MS = 1_461 * DAY

/** The last `ms` until now. */
export function lastSpan(ms: Ms, now: Ms): Span {
  return { from: now - ms, to: now, live: true }
}

/** From here on a point is a day at least: then the daemon answers from its roll-ups of days, a year in a moment. */
const BY_DAY_MS = 120 * DAY

/** How many points to ask for, of at most so many. */
export function pointsFor(spanMs: Ms, most: number): number {
  return spanMs > BY_DAY_MS ? Math.min(most, Math.floor(spanMs / DAY)) : most
}

/** Half its own length earlier (−1) or later (+1), never past now. */
export function moved(span: Span, way: -1 | 1, now: Ms): Span {
  const width = span.to - span.from
  const to = Math.min(now, span.to + (way * width) / 2)
  return { from: to - width, to, live: to >= now }
}

/** Whole days of the site's calendar, both included; null where they are not in order or too many. */
export function daySpan(firstDate: string, lastDate: string, zone: string, now: Ms): Span | null {
  if (firstDate === '' || lastDate === '' || firstDate > lastDate) return null
  const from = dayAround(firstDate, zone).start
  const end = dayAround(lastDate, zone).end
  const to = Math.min(end, now)
  return from >= to || to - from > SPAN_MAX_MS ? null : { from, to, live: false }
}

/** An instant as it is written at an end of the span: with the year where the span is long. */
export function instantWords(t: Ms, spanMs: Ms, zone: string): string {
  return spanMs > 60 * DAY ? formatLocalDateTime(t, zone) : formatLocalTime(t, zone)
}

/** A label of the time axis: hours within days, days within months, months within years. */
export function axisWords(t: Ms, stepMs: Ms, zone: string): string {
  if (stepMs < DAY) return formatLocalClock(t, zone)
  const [day = '', month = '', year = ''] = formatLocalDateTime(t, zone).split(' ')
  return stepMs < 28 * DAY ? `${day} ${month}` : `${month} ${year}`
}
