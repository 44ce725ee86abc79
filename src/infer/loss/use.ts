/** The account of use: litres by the hour, what is usual by hour of the week, whole days. */
import type { UsualDay } from '../../model/facts-loss.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import { dateWeekday } from './weekday.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { MAD_TO_SD, median } from '../stats.js'
import { BIN_MS } from './bins.js'
import type { LossState } from './state.js'

const DAYS_KEPT = 60
const USUAL_DAYS = 21
/** A day counts as whole with so many hours known. */
const WHOLE_DAY_H = 20
/** Days with less than this share of the usual use are days on which nobody was there: no guide to the hours. */
const EMPTY_SHARE = 0.2
/** A cell follows the season: its newest value weighs one in so many. */
const CELL_MEMORY = 8
/** Enough of one hour of the week to stand for itself. */
const CELL_ENOUGH = 3
/** A rise of so much between two means is no scatter. */
const UNSEEN_FILL_L = 40
/** Nothing is spread over a gap longer than this. */
const SPREAD_MAX_MS = 6 * HOUR

/** A bin at rest has closed: what has left the tank since the last one is use. */
export function accountBin(plan: SitePlan, state: EngineState, bin: number, volumeL: number): void {
  const { loss } = state
  const { fromBin, fromL, pumpedL } = loss
  loss.fromBin = bin
  loss.fromL = volumeL
  loss.pumpedL = 0
  loss.pumpedVar = 0
  if (fromBin === null) return
  const from = (fromBin + 0.5) * BIN_MS
  const to = (bin + 0.5) * BIN_MS
  if (pumpedL === null || to - from > SPREAD_MAX_MS) return
  const used = fromL + pumpedL - volumeL
  // The tank gained what no pump was seen to bring: a fill was missed, and what was used meanwhile is not known.
  if (used < -UNSEEN_FILL_L) return
  spread(plan, loss, from, to, used)
}

function spread(plan: SitePlan, loss: LossState, from: Ms, to: Ms, litres: number): void {
  let t = from
  while (t < to) {
    beginDay(plan, loss, t)
    const hour = Math.min(23, Math.floor((t - loss.dayStart) / HOUR))
    const end = Math.min(to, loss.dayStart + (hour + 1) * HOUR, plan.calendar.dayOf(t).end)
    const share = Math.max(1, end - t) / (to - from)
    loss.hours[hour] = (loss.hours[hour] ?? 0) + litres * share
    loss.knownH += Math.max(1, end - t) / HOUR
    t = Math.max(end, t + 1)
  }
}

function beginDay(plan: SitePlan, loss: LossState, t: Ms): void {
  if (t < loss.dayStart + 22 * HOUR && loss.dayStart !== 0) return
  const day = plan.calendar.dayOf(t)
  if (day.start === loss.dayStart) return
  if (loss.dayStart !== 0 && day.start > loss.dayStart) endDay(loss)
  loss.dayStart = day.start
  loss.dayOfWeek = dateWeekday(day.date)
  loss.hours.fill(0)
  loss.knownH = 0
}

function endDay(loss: LossState): void {
  const used = loss.hours.reduce((sum, litres) => sum + litres, 0)
  const usualL = usualDay(loss)?.valueL ?? null
  loss.dayStarts.push(loss.dayStart)
  loss.dayUsedL.push(Math.round(used))
  loss.dayKnownH.push(Math.round(10 * loss.knownH) / 10)
  if (loss.dayStarts.length > DAYS_KEPT) {
    loss.dayStarts.shift()
    loss.dayUsedL.shift()
    loss.dayKnownH.shift()
  }
  loss.rises.push(Math.round(10 * loss.riseL) / 10)
  if (loss.rises.length > 14) loss.rises.shift()
  loss.riseL = 0
  if (loss.knownH < WHOLE_DAY_H || (usualL !== null && used < EMPTY_SHARE * usualL)) return
  learnHours(loss, usualL ?? Math.max(used, 24))
  loss.quietFromH = quietestFrom(loss)
}

/** An hour counts for at most so many times the day's mean hour: a garden hose must not be the rule for weeks. */
const HOUR_CAP = 6

function learnHours(loss: LossState, dayL: number): void {
  const cap = (HOUR_CAP * dayL) / 24
  const weekend = loss.dayOfWeek === 0 || loss.dayOfWeek === 6
  for (let hour = 0; hour < 24; hour += 1) {
    const litres = Math.max(0, Math.min(cap, loss.hours[hour] ?? 0))
    follow(loss.week, loss.weekN, 24 * loss.dayOfWeek + hour, litres)
    follow(loss.plain, loss.plainN, (weekend ? 24 : 0) + hour, litres)
  }
}

function follow(values: number[], counts: number[], at: number, litres: number): void {
  const n = Math.min(CELL_MEMORY, (counts[at] ?? 0) + 1)
  counts[at] = n
  const before = values[at] ?? 0
  values[at] = Math.round(100 * (before + (litres - before) / n)) / 100
}

/** Usual litres in an hour of the week by its own cell, else by hour of workdays or weekends; null while neither is known. */
function cell(loss: LossState, weekday: number, hour: number): number | null {
  const at = 24 * weekday + hour
  if ((loss.weekN[at] ?? 0) >= CELL_ENOUGH) return loss.week[at] ?? null
  const weekend = weekday === 0 || weekday === 6
  const plainAt = (weekend ? 24 : 0) + hour
  if ((loss.plainN[plainAt] ?? 0) > 0) return loss.plain[plainAt] ?? null
  const other = (weekend ? 0 : 24) + hour
  return (loss.plainN[other] ?? 0) > 0 ? (loss.plain[other] ?? null) : null
}

/** Usual draw in the hour that holds `t`, litres; null before a first whole day. */
export function usualInHour(plan: SitePlan, loss: LossState, t: Ms): number | null {
  const day = plan.calendar.dayOf(t)
  const sameDay = day.start === loss.dayStart
  const weekday = sameDay ? loss.dayOfWeek : dateWeekday(day.date)
  return cell(loss, weekday, Math.min(23, Math.floor((t - day.start) / HOUR)))
}

/** Usual use of a day: median of the last whole days with anybody there. */
export function usualDay(loss: LossState): UsualDay | null {
  const whole: number[] = []
  for (let i = loss.dayUsedL.length - 1; i >= 0 && whole.length < USUAL_DAYS; i -= 1) {
    if ((loss.dayKnownH[i] ?? 0) >= WHOLE_DAY_H) whole.push(((loss.dayUsedL[i] ?? 0) * 24) / (loss.dayKnownH[i] ?? 24))
  }
  if (whole.length === 0) return null
  const all = median(whole)
  const lived = whole.filter((litres) => litres >= EMPTY_SHARE * all)
  if (lived.length === 0) return { valueL: Math.max(0, all), sdL: Math.abs(all), days: whole.length }
  const centre = median(lived)
  const spreadL = MAD_TO_SD * median(lived.map((litres) => Math.abs(litres - centre)))
  return { valueL: centre, sdL: Math.max(spreadL, 0.1 * centre), days: lived.length }
}

export const QUIET_HOURS = 5
/** First hours that the quiet hours may begin at: evening to dawn. */
const QUIET_FIRST = [0, 23, 1, 22, 2] as const

/** The five hours of the night in which least is usually drawn; midnight unless others are plainly quieter. */
function quietestFrom(loss: LossState): number {
  let best: number = QUIET_FIRST[0]
  let least = Number.POSITIVE_INFINITY
  for (const from of QUIET_FIRST) {
    let sum = 0
    for (let k = 0; k < QUIET_HOURS; k += 1) sum += loss.plain[(from + k) % 24] ?? 0
    if (sum < 0.7 * least) {
      least = sum
      best = from
    }
  }
  return best
}

/** Start of the quiet hours that hold `t`; null when `t` is in none. */
export function quietHoursAt(plan: SitePlan, loss: LossState, t: Ms): Ms | null {
  const from = loss.quietFromH
  const day = plan.calendar.dayOf(t)
  const start =
    from >= 12 && t < day.start + (from - 24 + QUIET_HOURS) * HOUR
      ? day.start - (24 - from) * HOUR
      : day.start + from * HOUR
  return t >= start && t < start + QUIET_HOURS * HOUR ? start : null
}

/** Litres used since `from`, by whole days and today; and how far back the days are known without a hole. */
export function usedDaysBack(
  loss: LossState,
  litres: number,
  now: Ms,
): { readonly days: number; readonly atLeast: boolean } {
  let sum = loss.hours.reduce((total, each) => total + each, 0)
  if (sum >= litres) return { days: (now - loss.dayStart) / DAY, atLeast: false }
  let reached = loss.dayStart
  for (let i = loss.dayUsedL.length - 1; i >= 0; i -= 1) {
    const start = loss.dayStarts[i] ?? 0
    if (reached - start > 26 * HOUR || (loss.dayKnownH[i] ?? 0) < WHOLE_DAY_H) break
    const used = Math.max(0, loss.dayUsedL[i] ?? 0)
    if (sum + used >= litres) {
      const share = used > 0 ? (litres - sum) / used : 0
      return { days: (now - (reached - share * (reached - start))) / DAY, atLeast: false }
    }
    sum += used
    reached = start
  }
  return { days: (now - reached) / DAY, atLeast: true }
}
