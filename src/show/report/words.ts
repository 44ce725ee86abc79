/** A report as a person reads it: one sentence on top, then water, energy, battery, weather, alarms and upkeep. */
import { atLeast, type QuantityKind } from '../../model/alarm.js'
import { LIMITS } from '../../model/limits.js'
import { formatDuration, formatLocalTime, formatNumber, formatQuantity } from '../../model/format.js'
import type { SizingBody } from '../bodies/sizing.js'
import { adviceLines } from '../words/sizing-lines.js'
import { list, type LongForm, type Section } from '../../tell/sections.js'
import { daysIn, type Report, type Sum } from './gather.js'
import { shortDate } from './period.js'

/** A change smaller than this is within what weather and use do to a month. */
const CHANGE_SHARE = 0.05

/** `sizing`: what panel and battery the place needs, where that was worked out. */
export function reportForm(report: Report, sizing: SizingBody | null = null): LongForm {
  const { site, period } = report
  const place = site.name === '' ? site.id : site.name
  return {
    title: clip(`${place}: ${period.name}`),
    onePage: true,
    sections: [
      { heading: null, form: 'prose', lines: [topSentence(report)] },
      list('Water', waterLines(report)),
      list('Energy', energyLines(report)),
      list('Battery', batteryLines(report)),
      list('Weather', weatherLines(report)),
      list('Alarms', alarmLines(report)),
      ...(sizing === null ? [] : [list('Panel and battery', adviceLines(sizing).map(plain))]),
      ...upkeepSections(report),
      { heading: null, form: 'prose', lines: [footing(report)] },
    ],
    link: null,
  }
}

/** The one sentence: what asked for somebody, or that nothing did; and never "well" where little was heard. */
export function topSentence(report: Report): string {
  const { alarms, fills, pumped, period, covered, site } = report
  if (report.daysHeard === 0) return `Nothing was heard from the place in this ${period.kind}.`
  const serious = alarms.filter(({ priority }) => atLeast(priority, 'high'))
  const standing = alarms.filter((alarm) => alarm.standing && atLeast(alarm.priority, 'medium'))
  const water =
    pumped === null
      ? `${count(fills, 'fill')}`
      : `${count(fills, 'fill')} brought ${formatQuantity('volume', pumped.value, site.units)}`
  const first = standing[0] ?? serious[0]
  const others = alarms.filter(({ priority }) => atLeast(priority, 'medium')).length - 1
  if (first !== undefined) {
    const more = others > 0 ? `, and ${count(others, 'other alarm')}` : ''
    return standing.length > 0
      ? `One thing still stands: ${lower(clip(first.title))}${more}; ${water}.`
      : `Something asked for you: ${lower(clip(first.title))}${more}; it is over, and ${water}.`
  }
  const heard = covered < 0.9 ? ` ${formatNumber(covered * 100, 0)} % of the time was heard.` : ''
  const notes = alarms.length === 0 ? 'nothing asked for you' : `only ${count(alarms.length, 'small thing')} to read of`
  return `A quiet ${period.kind}: ${notes}, and ${water}.${heard}`
}

function waterLines(report: Report): string[] {
  const { pumped, used, fills, fillsUnfit, runS, flowLMin, flowLMinBefore, site } = report
  const unfit = fillsUnfit > 0 ? `, ${fillsUnfit} of them with figures that do not count` : ''
  return [
    `Pumped: ${sum(report, pumped, 'volume')}`,
    `Used: ${sum(report, used, 'volume')}${perDay(report, used)}`,
    `${count(fills, 'fill')}${unfit}; the pump ran ${formatDuration(runS * 1_000)} in all`,
    `Yield: ${formatQuantity('flow', flowLMin, site.units)}${change(flowLMin, flowLMinBefore, report)}`,
  ]
}

function energyLines(report: Report): string[] {
  const { pumpWh, whPerL, whPerLBefore, harvestWh, site } = report
  const each =
    whPerL === null
      ? 'Energy for each volume: not known'
      : `Energy for each volume: ${plusMinus('energy-per-volume', whPerL.value, whPerL.sd, report)}${change(whPerL.value, whPerLBefore?.value ?? null, report)}`
  const harvest = harvestWh === null ? 'not measured' : formatQuantity('energy', harvestWh.value, site.units)
  return [`The pump took: ${sum(report, pumpWh, 'energy')}`, each, `Harvest of the panels: ${harvest}`]
}

function batteryLines({ batteryMinV, batteryMaxV, site }: Report): string[] {
  if (batteryMinV === null) return ['Not known.']
  const high = formatQuantity('voltage', batteryMaxV, site.units)
  return [
    `From ${formatQuantity('voltage', batteryMinV.value, site.units)} (${shortDate(batteryMinV.date)}) to ${high}`,
  ]
}

function weatherLines({ airMinC, airMaxC, frostDays, site }: Report): string[] {
  if (airMinC === null) return ['No temperature of the air is measured.']
  const high = formatQuantity('temperature', airMaxC, site.units)
  const low = formatQuantity('temperature', airMinC.value, site.units)
  const frost = frostDays === null || frostDays === 0 ? 'no frost' : `frost on ${count(frostDays, 'day')}`
  return [`From ${low} (${shortDate(airMinC.date)}) to ${high}; ${frost}`]
}

function alarmLines({ alarms, site }: Report): string[] {
  if (alarms.length === 0) return ['None.']
  const lines = alarms.map(({ title, priority, count: times, longestMs, first, standing }) => {
    const often = times === 1 ? '' : `, ${times} times`
    const end = standing ? 'still stands' : `${times === 1 ? '' : 'longest '}${formatDuration(longestMs)}`
    return `${clip(title)} (${priority}): ${formatLocalTime(first, site.timezone)}${often}, ${end}`
  })
  return folded(lines, LIMITS.reportAlarmsMax)
}

/** What is due and what nobody ever noted come before what is well. */
function upkeepSections({ upkeep, journal, site }: Report): Section[] {
  const pressing = ({ overdue, lastAt }: Report['upkeep'][number]): number => (overdue ? 0 : lastAt === null ? 1 : 2)
  const due = upkeep
    .toSorted((a, b) => pressing(a) - pressing(b))
    .map(({ name, everyDays, lastAt, dueAt, overdue }) => {
      const what = clip(name)
      if (lastAt === null || dueAt === null)
        return `${what}: never noted (every ${count(Math.round(everyDays), 'day')})`
      const when = formatLocalTime(dueAt, site.timezone)
      return overdue ? `${what}: due since ${when}` : `${what}: next ${when}`
    })
  // The last are kept: what was done last is what the next month begins with.
  const left = Math.max(0, journal.length - LIMITS.reportJournalMax)
  const done = journal
    .slice(left)
    .map(({ at, by, text }) => `${formatLocalTime(at, site.timezone)}, ${clip(`${by}: ${text}`)}`)
  const earlier = left === 0 ? [] : [`and ${formatNumber(left, 0)} more before these`]
  return [
    ...(due.length === 0 ? [] : [list('Upkeep', folded(due, LIMITS.reportUpkeepMax))]),
    ...(done.length === 0 ? [] : [list('Noted in the journal', [...done, ...earlier])]),
  ]
}

/** The first of a list, and how many there are besides: the whole stays on one page. */
function folded(lines: readonly string[], most: number): string[] {
  const more = lines.length - most
  return more <= 0 ? [...lines] : [...lines.slice(0, most), `and ${formatNumber(more, 0)} more`]
}

/** What people wrote, on one line and no longer than a line of the page. */
function clip(text: string): string {
  const chars = [...text.replace(/\s+/g, ' ').trim()]
  let width = 0
  const fit = chars.findIndex((char) => {
    width += WIDE.test(char) ? 2 : 1
    return width > LIMITS.reportCharsMax
  })
  return fit < 0 ? chars.join('') : `${chars.slice(0, fit - 1).join('')}…`
}

/** Capitals, and the scripts from Hangul on (U+1100), take about twice the room of other letters. */
const WIDE = /[\p{Lu}\u{1100}-\u{10ffff}]/u

function footing({ period, daysHeard, covered, site }: Report): string {
  const share = formatNumber(covered * 100, 0)
  return `Rests on ${daysHeard} of ${daysIn(period)} days; ${share} % of the time was heard. Times are those of ${site.timezone}. What is not known is left out of sums, which say of how many days they are.`
}

function sum({ period, site }: Report, of: Sum | null, kind: QuantityKind): string {
  if (of === null) return 'not known'
  const whole = of.days >= daysIn(period)
  const value = plusMinus(kind, of.value, of.sd, { site })
  return whole ? value : `${value} in ${count(of.days, 'day')} for which it is known`
}

function perDay({ site }: Report, of: Sum | null): string {
  return of === null ? '' : `, ${formatQuantity('volume', of.value / of.days, site.units)} a day`
}

/** Value and standard uncertainty (GUM); a doubt that would round to nothing is not written. */
function plusMinus(kind: QuantityKind, value: number, sd: number, { site }: Pick<Report, 'site'>): string {
  const words = formatQuantity(kind, value, site.units)
  const doubt = formatQuantity(kind, sd, site.units)
  return /^0([.,]0*)?( |$)/.test(doubt) ? words : `${words} ± ${doubt}`
}

function change(now: number | null, before: number | null, { period }: Report): string {
  if (now === null || before === null || before === 0) return ''
  const share = now / before - 1
  if (Math.abs(share) < CHANGE_SHARE) return `, as in the ${period.kind} before`
  return `, ${formatNumber(Math.abs(share) * 100, 0)} % ${share > 0 ? 'more' : 'less'} than in the ${period.kind} before`
}

function count(n: number, what: string): string {
  return `${formatNumber(n, 0)} ${what}${n === 1 ? '' : 's'}`
}

/** A title in the middle of a sentence. */
function lower(title: string): string {
  return `${title.charAt(0).toLowerCase()}${title.slice(1)}`.replace(/[.\s]+$/, '')
}

/** Mail and terminals have no use for spaces that hold number and unit together. */
function plain(line: string): string {
  return line.replaceAll('\u00a0', ' ')
}
