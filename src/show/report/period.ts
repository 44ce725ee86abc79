/** Months and weeks by the site's own calendar. */
import { createCalendar } from '../../infer/calendar.js'
import { DAY, HOUR, MONTH_NAMES, type Ms } from '../../model/time.js'
import type { Period } from './gather.js'

/** Noon of a date in UTC lies on that date, or on the one beside it, in any zone: near enough to find it from. */
export function dayAround(date: string, timezone: string) {
  const { dayOf } = createCalendar(timezone)
  const noon = Date.parse(`${date}T12:00:00Z`)
  for (const at of [noon, noon - 12 * HOUR, noon + 12 * HOUR]) {
    const day = dayOf(at)
    if (day.date === date) return day
  }
  return dayOf(noon)
}

function dateBefore(date: string, days: number): string {
  return new Date(Date.parse(`${date}T12:00:00Z`) - days * DAY).toISOString().slice(0, 10)
}

/** A month by its name, YYYY-MM; null where there is none of that name. */
export function monthOf(month: string, timezone: string): Period | null {
  const match = /^(\d{4})-(0[1-9]|1[0-2])$/.exec(month)
  if (match === null) return null
  const [, year = '', number = ''] = match
  const next =
    Number(number) === 12 ? `${Number(year) + 1}-01` : `${year}-${String(Number(number) + 1).padStart(2, '0')}`
  const from = dayAround(`${month}-01`, timezone).start
  const to = dayAround(`${next}-01`, timezone).start
  const name = `${MONTH_NAMES[Number(number) - 1]} ${year}`
  return { kind: 'month', name, from, to, firstDate: `${month}-01`, lastDate: dateBefore(`${next}-01`, 1) }
}

export function monthBefore(month: string): string {
  return dateBefore(`${month}-01`, 1).slice(0, 7)
}

/** The month, or the week from Monday, that was over last at `now`. */
export function monthOver(now: Ms, timezone: string): string {
  return monthBefore(createCalendar(timezone).dayOf(now).date.slice(0, 7))
}

export function weekOver(now: Ms, timezone: string): Period {
  const today = createCalendar(timezone).dayOf(now).date
  const weekday = (new Date(`${today}T12:00:00Z`).getUTCDay() + 6) % 7
  return weekFrom(dateBefore(today, weekday + 7), timezone)
}

/** The seven days from a date on. */
export function weekFrom(firstDate: string, timezone: string): Period {
  const lastDate = dateBefore(firstDate, -6)
  const from = dayAround(firstDate, timezone).start
  const to = dayAround(dateBefore(firstDate, -7), timezone).start
  return { kind: 'week', name: `${shortDate(firstDate)} to ${shortDate(lastDate)}`, from, to, firstDate, lastDate }
}

export function weekBefore({ firstDate }: Period): string {
  return dateBefore(firstDate, 7)
}

/** "2 Feb 2026" for a date. */
export function shortDate(date: string): string {
  const [year = '', month = '', day = ''] = date.split('-')
  return `${Number(day)} ${(MONTH_NAMES[Number(month) - 1] ?? '').slice(0, 3)} ${year}`
}
