/** A report of what the store holds. */
import type { SiteSettings } from '../../model/settings.js'
import { DAY, type Ms } from '../../model/time.js'
import type { Store } from '../../record/store.js'
import { gatherReport, type Period, type Report } from './gather.js'
import { monthBefore, monthOf, weekBefore, weekFrom } from './period.js'

const ROWS_MAX = 100_000
/** An alarm that began this long before a period may still stand in it. */
const STANDING_DAYS = 400

export function readReport(store: Store, site: SiteSettings, period: Period, now: Ms): Report {
  const before = periodBefore(period, site.timezone)
  const cycles = (of: Period) => store.cycles.list(site.id, of.from, of.to, ROWS_MAX)
  const days = (of: Period) => store.days.list(site.id, of.firstDate, of.lastDate)
  const alarms = store.alarms
    .list(site.id, period.from - STANDING_DAYS * DAY, period.to, ROWS_MAX)
    .filter((alarm) => alarm.cleared === null || alarm.cleared >= period.from)
  return gatherReport({
    site,
    period,
    days: days(period),
    cycles: cycles(period),
    cyclesBefore: cycles(before),
    alarms,
    journal: store.journal.list(site.id, 0, now + 1),
    now,
  })
}

function periodBefore(period: Period, timezone: string): Period {
  if (period.kind === 'week') return weekFrom(weekBefore(period), timezone)
  const month = monthOf(monthBefore(period.firstDate.slice(0, 7)), timezone)
  if (month === null) throw new Error(`no month before ${period.name}`)
  return month
}
