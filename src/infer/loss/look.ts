/** Use and loss at a look: the five-minute bin that closes is accounted for, and what it shows is told as facts. */
import type { Facts } from '../../model/facts.js'
import type { FillCycle } from '../../model/fill.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import { usualDrawLH } from '../delivered.js'
import type { SitePlan } from '../plan.js'
import type { EngineState, Run } from '../state.js'
import { accountBin, QUIET_HOURS, quietHoursAt, usedDaysBack, usualDay, usualInHour } from './use.js'
import {
  anyL,
  BIN_MS,
  BINS_IN_HOUR,
  binSdL,
  closeBin,
  drawEndL,
  drawStepL,
  isFine,
  newest,
  restFalls,
  restL,
} from './bins.js'
import { driftL, isQuiet } from './drift.js'
import { bigFall, lostInDay, sameHourFall, steadyFall } from './falls.js'
import { waterLeft } from './left.js'
import { endNight, nightlyFall, usualNight } from './nights.js'
import { quietFall } from './slope.js'
import { createLoss, type LossState } from './state.js'

const QUARTER_MS = 15 * MINUTE
const FILLS_KEPT = 40
/** Hours of air temperature: the same hour of the day before, and one more on each side. */
const AIR_KEPT = 28
/** Nobody has drawn for so long: in the waking hours of a household that is long. */
const EMPTY_AFTER_MS = 18 * HOUR
const PRESENT_H = 3

export function lookAtLoss(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { loss } = state
  facts.loss = loss.facts
  if (at % HOUR === 0) keepAir(loss, at, facts.airC)
  if (at % BIN_MS !== 0 || plan.site.tank === null) {
    ageLeft(loss, at, facts)
    return
  }
  if (plan.index['tank-level'] === undefined) lookAtIntervals(plan, state, at)
  else lookAtBin(plan, state, at, facts)
  ageLeft(loss, at, facts)
}

function lookAtBin(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { loss } = state
  const said = loss.facts
  const before = newest(loss)
  const volumeL = closeBin(plan, state, at)
  const bin = newest(loss)
  if (volumeL !== null) {
    noteDraw(plan, state, at, before, bin)
    noteRise(plan, state, volumeL)
    accountBin(plan, state, bin, volumeL)
  } else loss.restLowL = null
  const nightEnds = at - BIN_MS
  if (quietHoursAt(plan, loss, nightEnds) === at - QUIET_HOURS * HOUR) {
    endNight(plan, state, at)
    said.nightly = nightlyFall(plan, state, at)
  }
  said.big = bigFall(plan, state, at)
  said.longestDrawMin = loss.longestMin
  if (at % QUARTER_MS === 0) {
    said.steady = steadyFall(plan, state, at)
    said.sameHour = sameHourFall(plan, state, at)
    lookAtUse(plan, state, at, facts)
  }
  followShown(plan, state, at)
}

/** A draw is known by its end: the tank falls much less than just before. What goes on and on is none. */
function noteDraw(plan: SitePlan, state: EngineState, at: Ms, before: number, bin: number): void {
  const { loss } = state
  // What was not seen may have been a draw.
  if (bin - before > BINS_IN_HOUR) loss.lastDrawAt = at
  const first = restL(loss, bin - 2)
  const middle = restL(loss, bin - 1)
  const last = restL(loss, bin)
  if (first === null || middle === null || last === null) return
  const less = first - middle - (middle - last)
  if (less > drawEndL(plan, state)) loss.lastDrawAt = at
}

function noteRise(plan: SitePlan, state: EngineState, volumeL: number): void {
  const { loss } = state
  loss.restLowL = loss.restLowL === null ? volumeL : Math.min(loss.restLowL, volumeL)
  loss.riseL = Math.max(loss.riseL, volumeL - loss.restLowL - 3 * binSdL(plan, state))
}

function keepAir(loss: LossState, at: Ms, airC: number | null): void {
  const hour = Math.floor(at / HOUR) - 1
  const next = loss.airHour + loss.air.length
  if (hour < next || hour - next > AIR_KEPT) {
    loss.airHour = hour
    loss.air = []
  } else for (let missing = next; missing < hour; missing += 1) loss.air.push(null)
  loss.air.push(airC === null ? null : Math.round(10 * airC))
  while (loss.air.length > AIR_KEPT) {
    loss.air.shift()
    loss.airHour += 1
  }
}

function lookAtUse(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { loss } = state
  const said = loss.facts
  const fine = isFine(plan, state)
  said.usualDayL = usualDay(loss)
  said.usualNowLH = usualInHour(plan, loss, at)
  said.usedTodayL =
    loss.dayStart === 0
      ? null
      : Math.max(
          0,
          loss.hours.reduce((sum, litres) => sum + litres, 0),
        )
  const last = loss.dayStarts.length - 1
  const whole =
    last >= 0 && loss.dayStart - (loss.dayStarts[last] ?? 0) < 26 * HOUR && (loss.dayKnownH[last] ?? 0) >= 20
  said.usedYesterdayL = whole ? Math.max(0, loss.dayUsedL[last] ?? 0) : null
  said.quietFromH = loss.quietFromH
  said.quietToH = (loss.quietFromH + QUIET_HOURS) % 24
  said.quietLH = usualNight(loss)?.rateLH ?? null
  said.lastDrawAt = fine ? loss.lastDrawAt : null
  const watchedMs = at - (loss.lastDrawAt ?? state.firstHeard ?? at)
  said.seemsEmpty = fine ? watchedMs >= EMPTY_AFTER_MS : null
  said.presentLH = presentLH(state, at)
  lookAtTurnover(loss, at, plan.highL ?? facts.water.volumeL)
  const leakLH = said.steady?.rateLH ?? said.nightly?.rateLH ?? 0
  const lately = usualLatelyLH(plan, loss, at)
  const volumeL = facts.water.volumeL
  const left =
    volumeL === null ? null : waterLeft(loss, at, volumeL, said.presentLH, lately, leakLH, said.seemsEmpty === true)
  loss.leftAt = at
  loss.leftH = left?.hours ?? null
  said.hoursLeftLow = left?.low ?? null
  said.hoursLeftHigh = left?.high ?? null
}

/** The store is taken as full, so that a fill does not make the water older. */
function lookAtTurnover(loss: LossState, at: Ms, volumeL: number | null): void {
  const said = loss.facts
  const day = said.usualDayL
  said.usualTurnoverDays = volumeL === null || day === null || day.valueL <= 0 ? null : volumeL / day.valueL
  const back = volumeL === null || loss.dayStarts.length === 0 ? null : usedDaysBack(loss, volumeL, at)
  said.turnoverDays = back?.days ?? null
  said.turnoverAtLeast = back?.atLeast ?? false
}

/** Drawn over the last hours, pumped water counted; null while the pump runs or where something is missing. */
function presentLH(state: EngineState, at: Ms): number | null {
  const { loss } = state
  const end = newest(loss)
  const now = anyL(loss, end)
  const before = anyL(loss, end - PRESENT_H * BINS_IN_HOUR)
  if (now === null || before === null || state.pump.run !== null) return null
  let pumped = 0
  for (const fill of loss.fills) {
    if (fill.end <= at - PRESENT_H * HOUR) continue
    if (fill.litres === null || fill.start < at - PRESENT_H * HOUR) return null
    pumped += fill.litres
  }
  return Math.max(0, (before + pumped - now) / PRESENT_H)
}

function usualLatelyLH(plan: SitePlan, loss: LossState, at: Ms): number {
  let sum = 0
  for (let h = 1; h <= PRESENT_H; h += 1) sum += usualInHour(plan, loss, at - h * HOUR + 1) ?? 0
  return sum / PRESENT_H
}

/** Between reckonings the hours pass. Where nothing is reckoned, the flat draw of the last fills stands. */
function ageLeft(loss: LossState, at: Ms, facts: Facts): void {
  if (loss.leftH === null || facts.water.volumeL === null) return
  facts.water.hoursLeft = Math.max(0, loss.leftH - (at - loss.leftAt) / HOUR)
}

/** A rest of an hour and more without a fall, for the all-clear. */
const TIGHT_BINS = [12, 24, 48, 72] as const
const TIGHT_SHARE = 0.3
const TIGHT_DAY_L = 20

function followShown(plan: SitePlan, state: EngineState, at: Ms): void {
  const { loss } = state
  const said = loss.facts
  const shown = Math.max(said.steady?.rateLH ?? 0, said.big?.rateLH ?? 0, said.nightly?.rateLH ?? 0)
  if (shown > 0) {
    loss.shownLH = shown
    loss.shownAt = at
    said.tight = false
    return
  }
  if (at % QUARTER_MS !== 0) return
  said.tight = isTight(plan, state, at)
  if (said.tight) loss.shownLH = 0
}

function isTight(plan: SitePlan, state: EngineState, at: Ms): boolean {
  const { loss } = state
  if (loss.shownLH === 0) {
    const lost = lostInDay(plan, state, at)
    return nightsAreUsual(loss, at) || (lost !== null && lost.value < TIGHT_DAY_L)
  }
  const falls = restFalls(loss, 72)
  const sd = binSdL(plan, state)
  const wanderLH = isQuiet(plan, state) ? 0 : driftL(plan, state) / 6
  const limit = TIGHT_SHARE * loss.shownLH - wanderLH
  for (const bins of TIGHT_BINS) {
    if (falls.length < bins) break
    const found = quietFall(falls.slice(falls.length - bins), sd, drawStepL(plan, state))
    const sdLH = found.perStepSd * BINS_IN_HOUR
    if (sdLH < 0.5 * limit && found.perStep * BINS_IN_HOUR + sdLH < limit) return true
  }
  return nightsAreUsual(loss, at)
}

/** Two quiet nights since the loss was last seen. */
function nightsAreUsual(loss: LossState, at: Ms): boolean {
  const n = loss.nightT.length
  if (n < 2 || at - (loss.nightT[n - 1] ?? 0) > 26 * HOUR) return false
  const since = (loss.nightT[n - 2] ?? 0) - QUIET_HOURS * HOUR
  return since >= loss.shownAt && loss.nightOdd[n - 1] === 0 && loss.nightOdd[n - 2] === 0
}

/** A fill has been written: what it brought belongs to the account. With probes it ends the way from full to the call. */
export function takeFillLoss(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): void {
  const { loss } = state
  const litres = cycle.volumeL?.value ?? null
  const variance = (cycle.volumeL?.sd ?? 0) ** 2
  loss.fills.push({ start: cycle.start, end: cycle.end, litres, variance })
  while (loss.fills.length > FILLS_KEPT || (loss.fills[0]?.end ?? cycle.end) < cycle.end - 26 * HOUR) loss.fills.shift()
  if (loss.pumpedL === null || litres === null) loss.pumpedL = null
  else {
    loss.pumpedL += litres
    loss.pumpedVar += variance
  }
  if (plan.index['tank-level'] === undefined) noteInterval(plan, state, run, cycle)
}

/** The call must come from a low probe that has just gone dry. */
const CALL_MAX_MS = 30 * MINUTE

function noteInterval(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): void {
  const { loss } = state
  const called =
    run.startKnown && run.lowDryAtStart && run.lowLastWet !== null && run.start - run.lowLastWet < CALL_MAX_MS
  if (loss.fullAt !== null && called && plan.lowL !== null && plan.highL !== null) {
    const from = loss.fullAt
    loss.facts.interval = {
      from,
      to: run.start,
      litres: plan.highL - plan.lowL,
      inQuietHours: mostlyByNight(plan, loss, from, run.start),
    }
    loss.facts.tight = false
  }
  loss.fullAt = cycle.endReason === 'full' ? cycle.end : null
}

/** So much of the way may lie before or after the quiet hours: too short for an evening's use. */
const EDGE_MS = 45 * MINUTE
const NIGHT_SHARE = 0.6

function mostlyByNight(plan: SitePlan, loss: LossState, from: Ms, to: Ms): boolean {
  const night = quietHoursAt(plan, loss, (from + to) / 2)
  if (night === null) return false
  const end = night + QUIET_HOURS * HOUR
  if (from < night - EDGE_MS || to > end + EDGE_MS) return false
  return Math.min(to, end) - Math.max(from, night) >= NIGHT_SHARE * (to - from)
}

/** A leak that has stopped makes the next call wait. */
const LONGER = 2.5

function lookAtIntervals(plan: SitePlan, state: EngineState, at: Ms): void {
  const { loss } = state
  const said = loss.facts
  const { interval } = said
  if (interval !== null && at - interval.to > LONGER * (interval.to - interval.from) + 6 * HOUR) {
    said.interval = null
    said.tight = true
  }
  const drawLH = usualDrawLH(state)
  const volumeL = plan.highL
  const hours = state.water.drawH.reduce((sum, each) => sum + each, 0)
  said.usualDayL = drawLH === null ? null : { valueL: 24 * drawLH, sdL: 12 * drawLH, days: Math.floor(hours / 24) }
  said.usualTurnoverDays = volumeL === null || drawLH === null || drawLH <= 0 ? null : volumeL / (24 * drawLH)
  const { turnoverDays, atLeast } = turnoverByFills(state, at, volumeL)
  said.turnoverDays = turnoverDays
  said.turnoverAtLeast = atLeast
}

/** With probes only each way from full to the call has drawn the band; since the last full, at most the band. */
function turnoverByFills(
  state: EngineState,
  at: Ms,
  volumeL: number | null,
): { turnoverDays: number | null; atLeast: boolean } {
  const { drawL, drawH, lastFill } = state.water
  if (volumeL === null || lastFill === null) return { turnoverDays: null, atLeast: false }
  let sum = 0
  let hours = (at - lastFill.end) / HOUR
  for (let i = drawL.length - 1; i >= 0; i -= 1) {
    const litres = drawL[i] ?? 0
    if (sum + litres >= volumeL)
      return { turnoverDays: (hours + ((volumeL - sum) / litres) * (drawH[i] ?? 0)) / 24, atLeast: false }
    sum += litres
    hours += drawH[i] ?? 0
  }
  return { turnoverDays: hours / 24, atLeast: true }
}

/** A new baseline: a moved sensor or another tank makes the old levels no guide; the household is the same. */
export function rebaseLoss(state: EngineState): void {
  const { loss } = state
  const kept = { week: loss.week, weekN: loss.weekN, plain: loss.plain, plainN: loss.plainN }
  const days = { dayStarts: loss.dayStarts, dayUsedL: loss.dayUsedL, dayKnownH: loss.dayKnownH }
  state.loss = { ...createLoss(), ...kept, ...days, quietFromH: loss.quietFromH }
}
