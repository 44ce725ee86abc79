/**
 * A well that gives less than the pump takes. Its control rests it on purpose: short runs that end dry, with gaps of
 * minutes to an hour and more, until the tank is full. That is one episode, and its figures are what its owner wants:
 * litres a start, litres for an hour of rest, what the well recovers.
 */
import type { EpisodeFacts } from '../../model/facts-episode.js'
import type { Figure, FillCycle } from '../../model/fill.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from '../../model/time.js'
import { usualDrawLH } from '../delivered.js'
import type { SitePlan } from '../plan.js'
import type { EngineState, Run } from '../state.js'
import { MAD_TO_SD, median, quantile } from '../stats.js'
import { usual } from '../usual.js'
import type { EpisodeState } from './state.js'

/** Controls rest a well for 20 to 30 min; where it gives little, for up to 80 [common practice]. */
const GAP_MAX_MS = 80 * MINUTE
const GAP_LEAST_MS = 30 * SECOND
const RESTS_LEAST = 3
const KEPT = 12
/** What the rate of the pump and the filling of the pipe are wrong by in every run alike. */
const COMMON_SHARE = 0.05
const PAST_KEPT = 30
const PAST_DAYS = 30
/** Of a run at a known slow well: it must bring this share of the water that such runs bring. */
const WATER_SHARE = 0.35
/** A fall of an hour's worth of rest below this share of its usual is told, where its doubt is less than the fall. */
const FALLEN = 0.75
const FALLEN_EPISODES = 3
const FALLEN_RESTS = 5

/** Whether a run that began now goes on with a fill that a rest of the well has broken off: it does not begin at the low mark. */
export function goesOnAfterRest(state: EngineState, run: Run): boolean {
  const { since, lastEnd } = state.episode.slow
  return since !== null && lastEnd !== null && run.start - lastEnd <= GAP_MAX_MS
}

/** Takes a run that has been closed. */
export function takeEnd(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): void {
  const ep = state.episode.slow
  const gap = ep.lastEnd === null ? null : run.start - ep.lastEnd
  if (gap !== null && gap > GAP_MAX_MS) conclude(ep)
  const brought = cycle.endReason === 'dry' ? broughtBy(plan, state, run, cycle) : null
  if (cycle.endReason === 'dry' && brought !== null) {
    takeDryEnd(state, run, cycle, brought, gap)
    return
  }
  if (cycle.endReason === 'full' || cycle.endReason === 'stalled' || cycle.endReason === 'dry') conclude(ep)
  // Stopped by hand or by the battery, or unseen: what lies between counts neither as rest nor as water.
  else if (ep.since !== null) ep.lastEnd = cycle.end
}

function takeDryEnd(state: EngineState, run: Run, cycle: FillCycle, brought: Figure, gap: Ms | null): void {
  const ep = state.episode.slow
  const waterS = waterSeconds(state, run)
  ep.asUsual = isAsUsual(ep, waterS, cycle.end - (run.lightSince ?? cycle.end))
  if (ep.since === null || gap === null || gap < GAP_LEAST_MS) {
    if (ep.since === null) ep.since = run.start
    ep.lastEnd = cycle.end
    ep.starts += 1
    ep.rests += 1
    return
  }
  const before = ep.lastEnd ?? run.start
  ep.starts += 1
  ep.rests += 1
  ep.counted += 1
  ep.litres += brought.value
  ep.litresVar += brought.sd ** 2
  ep.restMs += gap
  ep.elapsedMs += cycle.end - before
  ep.lastEnd = cycle.end
  push(ep.waterS, waterS)
  if (run.lightSince !== null) push(ep.lightS, (run.lastOn - run.lightSince) / 1000)
}

/** What a run brought that then ran dry; null: no water ever came, which is no slow well. */
function broughtBy(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): Figure | null {
  const draw = ((usualDrawLH(state) ?? 0) * cycle.durationS) / 3600
  const { volumeL } = cycle
  const byTime = rateTimesTime(state, run)
  if (volumeL === null) return run.lightFromStart ? null : (byTime ?? { value: 0, sd: 0 })
  if (run.lightFromStart && volumeL.value < 3 * volumeL.sd) return null
  if (plan.index['pump-volume'] !== undefined || plan.index['pump-flow'] !== undefined) return volumeL
  const risen: Figure = { value: volumeL.value + draw, sd: volumeL.sd }
  if (byTime === null) return risen
  // Somebody who draws in these few minutes takes more than they bring: then only the clock tells.
  if (Math.abs(risen.value - byTime.value) > 2.5 * Math.hypot(risen.sd, byTime.sd)) return byTime
  const a = 1 / risen.sd ** 2
  const b = 1 / byTime.sd ** 2
  return { value: (risen.value * a + byTime.value * b) / (a + b), sd: 1 / Math.sqrt(a + b) }
}

/** The pump's usual rate for as long as it drew its current: what a gulp brings counts, what light current does not. */
function rateTimesTime(state: EngineState, run: Run): Figure | null {
  const rate = ratePerMin(state, run)
  if (rate === null) return null
  const value = (rate * waterSeconds(state, run)) / 60
  return { value, sd: Math.hypot(0.06 * value, (rate * 10) / 60) }
}

/** This pump's usual rate at the voltage of the run, litres a minute. */
function ratePerMin(state: EngineState, run: Run): number | null {
  const perVolt = usual(state.usual.ratePerV, 3)
  if (perVolt !== null && run.vN > 0) return (quantile(state.usual.ratePerV.values, 0.8) * run.vSum) / run.vN
  return usual(state.usual.flowLMin)?.value ?? null
}

/** Seconds of the run in which water came: all but the filling of the pipe and the samples of light current. */
function waterSeconds(state: EngineState, run: Run): number {
  const everyS = (run.lastOn - run.firstOn) / 1000 / Math.max(1, run.energy.samples - 1)
  const sound = run.currents.length * run.every + run.skip
  const light = Math.max(0, run.settledCount - sound)
  return Math.max(0, (run.lastOn - run.start) / 1000 - light * everyS - pipeSeconds(state))
}

/** Until the pipe is full the column is short and the current low: a better sign than the level, which draws delay. */
function pipeSeconds(state: EngineState): number {
  const reached = usual(state.usual.startWindowS, 3)?.value
  if (reached === undefined) return 30
  const earliest = usual(state.usual.firstRiseS, 3) === null ? 0 : quantile(state.usual.firstRiseS.values, 0.1)
  return Math.min(60, Math.max(reached + 10, Math.min(45, earliest)))
}

function isAsUsual(ep: EpisodeState, waterS: number, lightMs: Ms): boolean {
  if (ep.pastT.length === 0 || ep.waterS.length === 0) return false
  if (waterS < WATER_SHARE * median(ep.waterS)) return false
  return lightMs / 1000 <= longestLightS(ep)
}

function longestLightS(ep: EpisodeState): number {
  return ep.lightS.length === 0 ? 0 : 2 * Math.max(...ep.lightS) + 90
}

function push(values: number[], value: number): void {
  values.push(value)
  if (values.length > KEPT) values.shift()
}

function conclude(ep: EpisodeState): void {
  if (ep.rests >= RESTS_LEAST && ep.counted > 0 && ep.litres > 0 && ep.since !== null) {
    ep.pastT.push(ep.lastEnd ?? ep.since)
    ep.pastLH.push(ep.litres / (ep.restMs / HOUR))
    if (ep.pastT.length > PAST_KEPT) {
      ep.pastT.shift()
      ep.pastLH.shift()
    }
  }
  ep.since = null
  ep.lastEnd = null
  ep.starts = 0
  ep.rests = 0
  ep.litres = 0
  ep.litresVar = 0
  ep.counted = 0
  ep.restMs = 0
  ep.elapsedMs = 0
  ep.asUsual = false
}

/** A new pump, or the old one set deeper, makes the worth of a rest another one. */
export function forgetSlowWell(state: EngineState): void {
  const ep = state.episode.slow
  ep.waterS = []
  ep.lightS = []
  ep.pastT = []
  ep.pastLH = []
}

/** Tells the episode at a look, and ends it when nothing has started for too long. */
export function lookAtSlowWell(state: EngineState, at: Ms, out: EpisodeFacts): void {
  const ep = state.episode.slow
  const run = state.pump.run !== null && state.pump.run.end === null ? state.pump.run : null
  if (run === null && state.pump.run === null && ep.lastEnd !== null && at - ep.lastEnd > GAP_MAX_MS) conclude(ep)
  const open = ep.since !== null
  out.open = open
  out.active = ep.rests >= RESTS_LEAST
  out.since = ep.since
  out.starts = ep.starts
  out.rests = ep.rests
  out.litresPerStart = share(ep, ep.counted)
  out.litresPerRestH = share(ep, ep.restMs / HOUR)
  out.recoveryLH = share(ep, ep.elapsedMs / HOUR)
  out.mayRestUntil = open && run === null && ep.lastEnd !== null ? ep.lastEnd + GAP_MAX_MS : null
  out.known = ep.pastT.length > 0
  out.usualLPerRestH = usualLH(ep, at)
  out.asUsual =
    run !== null && run.lightSince !== null
      ? !run.lightFromStart && isAsUsual(ep, waterSeconds(state, run), at - run.lightSince)
      : open && ep.asUsual
  out.fallenTo = fallenTo(ep, out)
}

function share(ep: EpisodeState, by: number): Figure | null {
  if (ep.counted === 0 || by <= 0) return null
  return { value: ep.litres / by, sd: Math.hypot(Math.sqrt(ep.litresVar), COMMON_SHARE * ep.litres) / by }
}

function usualLH(ep: EpisodeState, at: Ms): EpisodeFacts['usualLPerRestH'] {
  const values = ep.pastLH.filter((_, i) => at - (ep.pastT[i] ?? 0) <= PAST_DAYS * DAY)
  if (values.length === 0) return null
  const value = median(values)
  return { value, sd: MAD_TO_SD * median(values.map((one) => Math.abs(one - value))), fills: values.length }
}

function fallenTo(ep: EpisodeState, out: EpisodeFacts): number | null {
  const { usualLPerRestH: before, litresPerRestH: now } = out
  if (before === null || now === null || before.fills < FALLEN_EPISODES || ep.counted < FALLEN_RESTS) return null
  const ratio = now.value / before.value
  const sd = Math.hypot(now.sd / before.value, (ratio * before.sd) / before.value / Math.sqrt(before.fills))
  return ratio + 2 * sd < FALLEN ? ratio : null
}
