/**
 * What the pump delivered in one run, what people drew meanwhile included.
 *
 * With a level sensor: the pump's own steady rate, found between the draws, times the time that water arrived. With
 * probes only: the same with the rate that quiet fills from mark to mark have shown. A run that begins elsewhere, or in
 * which the pump did not deliver steadily, has only its rise, or no known volume.
 */
import type { EndReason, Figure } from '../model/fill.js'
import { ROLES } from '../model/roles.js'
import { MINUTE, type Ms } from '../model/time.js'
import { contradictingSince } from './contradiction.js'
import { type Draws, findDraws } from './draws.js'
import type { SitePlan } from './plan.js'
import { firstFrom } from './ring.js'
import type { EngineState, Run } from './state.js'
import { median, quantile } from './stats.js'
import { volumeAt } from './tank.js'
import { usual } from './usual.js'

/** Standard uncertainty of where a probe or float switches, metres: waves, wetting and mounting [common practice]. */
const MARK_SD_M = 0.003
/** Ratio of the standard error of a median to that of a mean, normal samples: √(π/2). */
const MEDIAN_SE = 1.2533
/** The call for water may have stood this long before the start and the level still count as the low mark's. */
const CALL_MAX_MS = 30 * MINUTE

/** Longer than any drop pipe takes to fill; by then water arrives. */
const SURELY_ARRIVED_MS = 2 * MINUTE

export type Delivered = {
  readonly volume: Figure | null
  readonly levelStartM: number | null
  readonly levelEndM: number | null
  /** Draw seen or reckoned during the run, litres. */
  readonly drawL: number
}

const UNKNOWN: Delivered = { volume: null, levelStartM: null, levelEndM: null, drawL: 0 }

export function delivered(plan: SitePlan, state: EngineState, run: Run, reason: EndReason): Delivered {
  if (run.end === null) return UNKNOWN
  const metered = byMeter(plan, state, run)
  if (metered !== null) return metered
  if (plan.site.tank === null) return UNKNOWN
  if (plan.index['tank-level'] !== undefined) return byLevel(plan, state, run, reason)
  if (reason === 'full') return byMarks(plan, state, run)
  return UNKNOWN
}

/** A meter or a flow sensor after the pump counts what was delivered, draw or no draw. */
function byMeter(plan: SitePlan, state: EngineState, run: Run): Delivered | null {
  if (!run.startKnown || !run.endKnown) return null
  if (plan.index['pump-volume'] !== undefined && run.meterStart !== null && state.meterT >= run.lastOn) {
    const value = state.meterL - run.meterStart
    return {
      ...UNKNOWN,
      volume: { value, sd: Math.hypot(ROLES['pump-volume'].sd, ROLES['pump-volume'].gainSd * value) },
    }
  }
  if (plan.index['pump-flow'] !== undefined && run.flowL !== null) {
    return { ...UNKNOWN, volume: { value: run.flowL, sd: Math.max(0.5, ROLES['pump-flow'].gainSd * run.flowL) } }
  }
  return null
}

function byLevel(plan: SitePlan, state: EngineState, run: Run, reason: EndReason): Delivered {
  const shape = plan.site.tank?.shape
  const { end } = run
  if (shape === undefined || end === null || !run.startKnown || !run.endKnown) return UNKNOWN
  const post = firstFrom(state.water.levels, run.offAt ?? end, end + 5 * MINUTE, 7)
  const levelStartM = run.startLevelM
  if (levelStartM === null || post.length < 2) return UNKNOWN
  const levelEndM = median(post)
  const noiseL = levelNoiseM(plan, state) * plan.areaLM
  const ends = noiseL * MEDIAN_SE * Math.hypot(1 / Math.sqrt(run.startReadings), 1 / Math.sqrt(post.length))
  const rise: Figure = { value: volumeAt(shape, levelEndM) - volumeAt(shape, levelStartM), sd: ends }
  const rate = reason === 'full' || reason === 'manual' ? steadyRate(plan, state, run, noiseL) : null
  const volume = rate === null ? bareRise(state, run, end, rise) : steadyVolume(plan, state, run, end, rise, rate)
  const drawL = volume === null ? 0 : Math.max(0, volume.value - rise.value)
  return { volume, levelStartM, levelEndM, drawL }
}

/** Where the pump did not deliver steadily, only the rise is known; what was drawn meanwhile is its doubt. */
function bareRise(state: EngineState, run: Run, end: Ms, rise: Figure): Figure | null {
  const sd = Math.hypot(rise.sd, 3 * unseenDrawL(state, end - run.start))
  if (rise.value < -2 * sd) return null
  return { value: Math.max(0, rise.value), sd }
}

/** Draws too small for any minute to show take a per cent or so of every fill alike, so no average removes them. */
const UNSEEN_SHARE = 0.012

/** Rate × time from the first water to the stop; never less than the tank rose. */
function steadyVolume(plan: SitePlan, state: EngineState, run: Run, end: Ms, rise: Figure, rate: Figure): Figure {
  const lag = firstWaterS(state)
  const minutes = Math.max(0, (end - run.start) / 1000 - lag.value) / 60
  const value = Math.max(rise.value, rate.value * minutes)
  const seconds = Math.hypot(run.startSdS, run.endSdS, lag.sd)
  const unseen = UNSEEN_SHARE * value
  return { value, sd: Math.hypot(rate.sd * minutes, (rate.value * seconds) / 60, plan.levelGainSd * value, unseen) }
}

/** Seconds from the start to the first water: the early ones of what was seen, since a draw at the start only delays. */
function firstWaterS(state: EngineState): Figure {
  const seen = state.usual.firstRiseS.values
  if (seen.length < 3) return { value: 30, sd: 20 }
  return { value: quantile(seen, 0.3), sd: 15 }
}

/**
 * The pump's rate in this run, litres a minute: from its own minutes, and from what this pump has given per volt before
 * (a displacement pump's speed follows its voltage). The two are weighted by their doubt unless they disagree.
 */
function steadyRate(plan: SitePlan, state: EngineState, run: Run, noiseL: number): Figure | null {
  const own = ownRate(state, run, noiseL)
  if (own !== null) {
    run.rateLMin = own.value
    run.rateSdLMin = own.sd
    noteFirstRise(plan, run, own.value)
  }
  const learned = learnedRate(state, run)
  if (own === null || learned === null) return own ?? learned
  if (Math.abs(own.value - learned.value) > 3 * Math.hypot(own.sd, learned.sd)) return own
  const a = 1 / own.sd ** 2
  const b = 1 / learned.sd ** 2
  return { value: (own.value * a + learned.value * b) / (a + b), sd: 1 / Math.sqrt(a + b) }
}

/** A run that has gone on for this much longer than it should is asked for its own rate, and how often. */
const LONG_SHARE = 1.3
const ASK_EVERY_MS = 10 * MINUTE

/**
 * How well the pump delivers in a run that has become long: its own rate, draws taken out, over its usual at this
 * voltage. Null while the run is not long, or where no level sensor or nothing learned can tell.
 */
export function rateShare(plan: SitePlan, state: EngineState, run: Run, at: Ms, expectedS: number): number | null {
  if (plan.index['tank-level'] === undefined || (at - run.start) / 1000 < LONG_SHARE * expectedS) return null
  const learned = learnedRate(state, run)
  if (learned === null) return null
  if (at - run.rateAt >= ASK_EVERY_MS) {
    run.rateAt = at
    run.rateLMin = ownRate(state, run, levelNoiseM(plan, state) * plan.areaLM)?.value ?? null
  }
  return run.rateLMin === null ? null : run.rateLMin / learned.value
}

function ownRate(state: EngineState, run: Run, noiseL: number): Figure | null {
  const perMinute = Math.max(1, 60 / Math.max(1, state.water.periodS))
  const from = run.start + SURELY_ARRIVED_MS
  const first = run.minuteT.findIndex((t) => t - MINUTE / 2 >= from)
  if (first < 0) return null
  return widened(findDraws(run.minuteT.slice(first), run.minuteV.slice(first), noiseL / Math.sqrt(perMinute)))
}

/** Draws too small for any minute to show lower the rate by a per cent or two: part of its doubt. */
function widened(found: Draws | null): Figure | null {
  if (found === null) return null
  return { value: found.rateLMin.value, sd: Math.hypot(found.rateLMin.sd, 0.02 * found.rateLMin.value) }
}

function learnedRate(state: EngineState, run: Run): Figure | null {
  const perVolt = usual(state.usual.ratePerV, 3)
  if (perVolt === null || run.vN === 0) return null
  // Draws only ever lower what a fill shows, so the better fills are nearer the truth.
  const value = (quantile(state.usual.ratePerV.values, 0.8) * run.vSum) / run.vN
  const sd = Math.max(0.008 * value, (perVolt.sd / perVolt.value / Math.sqrt(perVolt.fills)) * 1.25 * value)
  return { value, sd: Math.hypot(sd, 0.005 * value) }
}

/** Draws the first sure minute back along the pump's rate to the level before the start. */
function noteFirstRise(plan: SitePlan, run: Run, rate: number): void {
  const shape = plan.site.tank?.shape
  const k = run.minuteT.findIndex((t) => t - MINUTE / 2 >= run.start + SURELY_ARRIVED_MS)
  const t = run.minuteT[k]
  const v = run.minuteV[k]
  if (shape === undefined || t === undefined || v === undefined || run.startLevelM === null) return
  const before = volumeAt(shape, run.startLevelM)
  run.firstRiseS = Math.max(0, (t - run.start) / 1000 - ((v - before) / rate) * 60)
}

/** Standard deviation of one level reading, m: the sensor's own, or what its readings show if that is more. */
export function levelNoiseM(plan: SitePlan, state: EngineState): number {
  const seen = state.water.noiseN >= 30 ? Math.sqrt(state.water.noiseVar) : plan.levelSdM
  return Math.max(0.0005, seen)
}

/** Small draws that no minute can show: a third of the usual draw over so long, as a standard uncertainty. */
function unseenDrawL(state: EngineState, ms: number): number {
  const drawLH = usualDrawLH(state)
  return drawLH === null ? 0.5 : (drawLH * ms) / 3_600_000 / 3
}

/** Usual draw, litres per hour, of the last days or fills; null before any. */
export function usualDrawLH(state: EngineState): number | null {
  let litres = 0
  let hours = 0
  for (let i = 0; i < state.water.drawL.length; i += 1) {
    litres += state.water.drawL[i] ?? 0
    hours += state.water.drawH[i] ?? 0
  }
  return hours >= 6 ? litres / hours : null
}

/**
 * Between the marks the tank takes the band's volume; what was drawn meanwhile shows as a longer fill. The shortest
 * fills, at like voltage, are the quiet ones: they give the pump's rate, and rate × time gives the others' volume.
 */
function byMarks(plan: SitePlan, state: EngineState, run: Run): Delivered {
  const { end } = run
  if (plan.lowL === null || plan.highL === null || end === null || !run.startKnown || !run.endKnown) return UNKNOWN
  if (contradictingSince(state.water, end) !== null) return UNKNOWN
  if (!run.lowDryAtStart || run.lowLastWet === null || run.start - run.lowLastWet > CALL_MAX_MS) return UNKNOWN
  if (run.vN === 0) return UNKNOWN
  const band = plan.highL - plan.lowL
  const voltMinutes = ((run.vSum / run.vN) * (end - run.start)) / MINUTE
  // Even the quietest fill saw about half the usual draw.
  const drawn = (0.5 * (usualDrawLH(state) ?? 0) * (end - run.start)) / 3_600_000
  const perVolt = (band + drawn) / voltMinutes
  run.rateLMin = (perVolt * run.vSum) / run.vN
  const seen = [...state.usual.ratePerV.values, perVolt]
  const quiet = Math.max(...seen)
  const value = Math.max(band, quiet * voltMinutes)
  const marks = MARK_SD_M * plan.areaLM * Math.SQRT2
  const spread = Math.max(0.015, 0.08 / Math.sqrt(seen.length)) * value
  return {
    volume: { value, sd: Math.hypot((marks * value) / band, spread) },
    levelStartM: null,
    levelEndM: null,
    drawL: value - band,
  }
}
