/** A month or a week of a place in figures, from what is stored. Unknown stays unknown: sums say how many days they rest on. */
import { median } from '../../infer/stats.js'
import { type Alarm, atLeast } from '../../model/alarm.js'
import type { Day, Figure, FillCycle } from '../../model/fill.js'
import type { JournalEntry } from '../../model/modes.js'
import type { SiteSettings } from '../../model/settings.js'
import { DAY, type Ms } from '../../model/time.js'
import { type UpkeepDue, upkeepDue } from './upkeep.js'

export type Period = {
  readonly kind: 'month' | 'week'
  /** "February 2026", or "2 to 8 Feb 2026". */
  readonly name: string
  readonly from: Ms
  readonly to: Ms
  /** First and last date, YYYY-MM-DD in the site's zone. */
  readonly firstDate: string
  readonly lastDate: string
}

/** A sum over the days for which it is known. */
export type Sum = { readonly value: number; readonly sd: number; readonly days: number }

export type ReportInput = {
  readonly site: SiteSettings
  readonly period: Period
  readonly days: readonly Day[]
  /** Of the period before, for comparison. */
  readonly cycles: readonly FillCycle[]
  readonly cyclesBefore: readonly FillCycle[]
  /** Every occurrence that touches the period. */
  readonly alarms: readonly Alarm[]
  /** Every entry of the site, ascending. */
  readonly journal: readonly JournalEntry[]
  readonly now: Ms
}

export type AlarmLine = {
  readonly title: string
  readonly priority: Alarm['priority']
  readonly count: number
  readonly longestMs: number
  readonly first: Ms
  readonly standing: boolean
}

export type Report = {
  readonly site: SiteSettings
  readonly period: Period
  /** Days of the period that have any data, and the mean share of them that was heard. */
  readonly daysHeard: number
  readonly covered: number
  readonly pumped: Sum | null
  readonly used: Sum | null
  readonly fills: number
  readonly fillsUnfit: number
  readonly runS: number
  readonly pumpWh: Sum | null
  readonly whPerL: Figure | null
  readonly whPerLBefore: Figure | null
  readonly flowLMin: number | null
  readonly flowLMinBefore: number | null
  readonly batteryMinV: { readonly value: number; readonly date: string } | null
  readonly batteryMaxV: number | null
  readonly harvestWh: Sum | null
  readonly airMinC: { readonly value: number; readonly date: string } | null
  readonly airMaxC: number | null
  /** Nights below 0 °C, of the days whose least temperature is known. */
  readonly frostDays: number | null
  readonly alarms: readonly AlarmLine[]
  readonly journal: readonly JournalEntry[]
  readonly upkeep: readonly UpkeepDue[]
}

export function gatherReport(input: ReportInput): Report {
  const { site, period, days, cycles } = input
  const complete = cycles.filter((cycle) => cycle.complete)
  const cold = days.filter((day) => day.airMinC !== null)
  return {
    site,
    period,
    daysHeard: days.filter((day) => day.covered > 0).length,
    covered: days.length === 0 ? 0 : days.reduce((sum, day) => sum + day.covered, 0) / daysIn(period),
    pumped: sumOf(days, (day) => day.pumpedL),
    used: sumOf(days, (day) => day.usedL),
    fills: cycles.length,
    fillsUnfit: cycles.length - complete.length,
    runS: cycles.reduce((sum, cycle) => sum + cycle.durationS, 0),
    pumpWh: sumOf(days, (day) => day.pumpWh),
    whPerL: perLitre(cycles),
    whPerLBefore: perLitre(input.cyclesBefore),
    flowLMin: medianOrNull(complete.flatMap((cycle) => cycle.flowLMin?.value ?? [])),
    flowLMinBefore: medianOrNull(
      input.cyclesBefore.flatMap((cycle) => (cycle.complete ? (cycle.flowLMin?.value ?? []) : [])),
    ),
    batteryMinV: extreme(days, (day) => day.batteryMinV, -1),
    batteryMaxV: extreme(days, (day) => day.batteryMaxV, 1)?.value ?? null,
    harvestWh: sumOf(days, (day) => (day.harvestWh === null ? null : { value: day.harvestWh, sd: 0 })),
    airMinC: extreme(days, (day) => day.airMinC, -1),
    airMaxC: extreme(days, (day) => day.airMaxC, 1)?.value ?? null,
    frostDays: cold.length === 0 ? null : cold.filter((day) => (day.airMinC ?? 0) < 0).length,
    alarms: alarmLines(input),
    journal: input.journal.filter((entry) => entry.at >= period.from && entry.at < period.to),
    upkeep: upkeepDue(site.upkeep, input.journal, input.now),
  }
}

export function daysIn({ from, to }: Period): number {
  return Math.round((to - from) / DAY)
}

/** Days are taken as independent: their sensors' doubt is mostly noise and edges (GUM, JCGM 100:2008, 5.1.2). */
function sumOf(days: readonly Day[], of: (day: Day) => Figure | null): Sum | null {
  let value = 0
  let variance = 0
  let known = 0
  for (const day of days) {
    const figure = day.covered > 0 ? of(day) : null
    if (figure === null) continue
    value += figure.value
    variance += figure.sd ** 2
    known += 1
  }
  return known === 0 ? null : { value, sd: Math.sqrt(variance), days: known }
}

/** Energy over volume of the fills for which both are known: a ratio of sums, so that large fills weigh more. */
function perLitre(cycles: readonly FillCycle[]): Figure | null {
  let wh = 0
  let litres = 0
  let whVar = 0
  let litresVar = 0
  for (const { complete, energyWh, volumeL } of cycles) {
    if (!complete || energyWh === null || volumeL === null) continue
    wh += energyWh.value
    litres += volumeL.value
    whVar += energyWh.sd ** 2
    litresVar += volumeL.sd ** 2
  }
  if (litres <= 0 || wh <= 0) return null
  const value = wh / litres
  return { value, sd: value * Math.sqrt(whVar / wh ** 2 + litresVar / litres ** 2) }
}

function medianOrNull(values: readonly number[]): number | null {
  return values.length === 0 ? null : median(values)
}

function extreme(days: readonly Day[], of: (day: Day) => number | null, sign: 1 | -1) {
  let found: { value: number; date: string } | null = null
  for (const day of days) {
    const value = of(day)
    if (value !== null && (found === null || sign * value > sign * found.value)) found = { value, date: day.date }
  }
  return found
}

/** What people were or could have been told: consequences are under their cause, low ones are counted too. */
function alarmLines({ alarms, period, now }: ReportInput): AlarmLine[] {
  const byKey = new Map<string, Alarm[]>()
  for (const alarm of alarms) {
    if (alarm.explainedBy !== null) continue
    const kin = byKey.get(alarm.key) ?? []
    byKey.set(alarm.key, [...kin, alarm])
  }
  const until = Math.min(now, period.to)
  return [...byKey.values()]
    .map((kin) => {
      const last = kin.at(-1)
      const urgent = kin.reduce((a, b) => (atLeast(b.priority, a.priority) ? b : a))
      return {
        title: urgent.words.title,
        priority: urgent.priority,
        count: kin.length,
        longestMs: Math.max(...kin.map((one) => (one.cleared ?? until) - one.since)),
        first: Math.min(...kin.map((one) => one.raised)),
        standing: last !== undefined && last.cleared === null,
      }
    })
    .sort((a, b) => (atLeast(a.priority, b.priority) ? (atLeast(b.priority, a.priority) ? a.first - b.first : -1) : 1))
}
