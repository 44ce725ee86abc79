/** The site's own calendar days. Pure: the time-zone rules come with the language (ECMA-402), not from the machine. */
import { DAY, HOUR, MINUTE, type Ms } from '../model/time.js'

export type LocalDay = { readonly date: string; readonly start: Ms; readonly end: Ms }

export type Calendar = {
  /** The local day that holds an instant; days have 23 or 25 hours when the clocks change. */
  dayOf(t: Ms): LocalDay
}

/** `timezone` is an IANA name that the configuration has checked. */
export function createCalendar(timezone: string): Calendar {
  const format = new Intl.DateTimeFormat('en-CA', {
    timeZone: timezone,
    year: 'numeric',
    month: '2-digit',
    day: '2-digit',
  })
  let last: LocalDay | null = null
  const dayOf = (t: Ms): LocalDay => {
    if (last !== null && t >= last.start && t < last.end) return last
    const date = format.format(t)
    last = { date, start: firstInstant(format, date, t), end: firstInstantAfter(format, date, t) }
    return last
  }
  return { dayOf }
}

/** Earliest minute whose local date is `date`, searched back from `t`. Zones change on whole minutes in this century. */
function firstInstant(format: Intl.DateTimeFormat, date: string, t: Ms): Ms {
  return boundary(t - DAY - 2 * HOUR, t, (instant) => format.format(instant) === date)
}

function firstInstantAfter(format: Intl.DateTimeFormat, date: string, t: Ms): Ms {
  return boundary(t, t + DAY + 2 * HOUR, (instant) => format.format(instant) !== date)
}

/** First whole minute in (low, high] at which `after` holds; it holds at `high` and not at `low`. */
function boundary(low: Ms, high: Ms, after: (instant: Ms) => boolean): Ms {
  let below = Math.floor(low / MINUTE)
  let above = Math.ceil(high / MINUTE)
  if (after(Math.floor(high / MINUTE) * MINUTE)) above = Math.floor(high / MINUTE)
  while (above - below > 1) {
    const middle = Math.floor((above + below) / 2)
    if (after(middle * MINUTE)) above = middle
    else below = middle
  }
  return above * MINUTE
}
