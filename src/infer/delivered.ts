/**
 * What the pump delivered in one run: the rise of the tank, plus what people drew meanwhile.
 *
 * With a level sensor the rise is measured at both ends; draws show as minutes in which the tank rises less than this
 * pump's own steady rate, and are added back. With probes only, a fill from the low mark to the high mark is the
 * band's volume, plus the usual draw over its length. A run that begins elsewhere has no known volume.
 */
import type { Figure } from '../model/fill.js'
import { ROLES } from '../model/roles.js'
import { MINUTE } from '../model/time.js'
import type { SitePlan } from './plan.js'
import { firstFrom } from './ring.js'
import type { EngineState, Run } from './state.js'
import { median } from './stats.js'
import { volumeAt } from './tank.js'
import { usual } from './usual.js'

/** Standard uncertainty of where a probe or float switches, metres: waves, wetting and mounting [common practice]. */
const MARK_SD_M = 0.003
/** Ratio of the standard error of a median to that of a mean, normal samples: √(π/2). */
const MEDIAN_SE = 1.2533
/** A minute this many standard deviations short of the pump's rate had a draw in it. */
const DRAW_SIGNS = 2.5
/** The call for water may have stood this long before the start and the level still count as the low mark's. */
const CALL_MAX_MS = 30 * MINUTE

export type Delivered = {
  readonly volume: Figure | null
  readonly levelStartM: number | null
  readonly levelEndM: number | null
  /** Draw seen or reckoned during the run, litres. */
  readonly drawL: number
}

const UNKNOWN: Delivered = { volume: null, levelStartM: null, levelEndM: null, drawL: 0 }

export function delivered(plan: SitePlan, state: EngineState, run: Run, full: boolean): Delivered {
  if (run.end === null) return UNKNOWN
  const metered = byMeter(plan, state, run)
  if (metered !== null) return metered
  if (plan.site.tank === null) return UNKNOWN
  if (plan.index['tank-level'] !== undefined) return byLevel(plan, state, run, run.end)
  if (full) return byMarks(plan, state, run, run.end)
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

function byLevel(plan: SitePlan, state: EngineState, run: Run, end: number): Delivered {
  const shape = plan.site.tank?.shape
  if (shape === undefined || !run.startKnown || !run.endKnown) return UNKNOWN
  const post = firstFrom(state.water.levels, run.offAt ?? end, end + 5 * MINUTE, 7)
  if (run.pre.length < 2 || post.length < 2) return UNKNOWN
  const levelStartM = median(run.pre)
  const levelEndM = median(post)
  const rise = volumeAt(shape, levelEndM) - volumeAt(shape, levelStartM)
  const noiseL = levelNoiseM(plan, state) * plan.areaLM
  const draw = drawDuring(plan, state, run, noiseL)
  const value = rise + draw.value
  const ends = noiseL * MEDIAN_SE * Math.hypot(1 / Math.sqrt(run.pre.length), 1 / Math.sqrt(post.length))
  const unseen = unseenDrawL(state, end - run.start)
  const sd = Math.hypot(ends, plan.levelGainSd * value, draw.sd, unseen)
  if (value <= 0)
    return {
      volume: value > -2 * sd ? { value: Math.max(0, value), sd } : null,
      levelStartM,
      levelEndM,
      drawL: draw.value,
    }
  return { volume: { value, sd }, levelStartM, levelEndM, drawL: draw.value }
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

function drawDuring(plan: SitePlan, state: EngineState, run: Run, noiseL: number): Figure {
  const n = run.minuteT.length
  if (n < 6) return { value: 0, sd: 0 }
  const stepSd = (noiseL * Math.SQRT2) / Math.sqrt(6)
  const rate = steadyRate(run)
  const drawn = new Array<boolean>(n).fill(false)
  for (let k = 1; k < n; k += 1) {
    const minutes = ((run.minuteT[k] ?? 0) - (run.minuteT[k - 1] ?? 0)) / MINUTE
    const step = (run.minuteV[k] ?? 0) - (run.minuteV[k - 1] ?? 0)
    if (step >= rate * minutes - DRAW_SIGNS * stepSd - 0.1 * rate) continue
    for (let j = Math.max(1, k - 1); j <= Math.min(n - 1, k + 1); j += 1) drawn[j] = true
  }
  let quietL = 0
  let quietMin = 0
  let drawMin = 0
  let drawRise = 0
  let windows = 0
  for (let k = 1; k < n; k += 1) {
    const minutes = ((run.minuteT[k] ?? 0) - (run.minuteT[k - 1] ?? 0)) / MINUTE
    const step = (run.minuteV[k] ?? 0) - (run.minuteV[k - 1] ?? 0)
    if (drawn[k] === true) {
      drawMin += minutes
      drawRise += step
      if (drawn[k - 1] !== true) windows += 1
    } else {
      quietL += step
      quietMin += minutes
    }
  }
  if (drawMin === 0) return { value: 0, sd: 0 }
  const learned = usual(state.usual.flowLMin, 3)
  const own = quietMin >= 5 ? quietL / quietMin : (learned?.value ?? rate)
  const rateSd =
    quietMin >= 5 ? (stepSd * 1.5) / Math.max(1, quietMin) + 0.01 * own : Math.max(0.1 * own, learned?.sd ?? 0)
  const value = Math.max(0, own * drawMin - drawRise)
  return { value, sd: Math.hypot(drawMin * rateSd, stepSd * Math.sqrt(2 * windows), plan.levelGainSd * value) }
}

/** The pump's own rate, litres a minute: the upper quartile of three-minute slopes, since draws only lower them. */
function steadyRate(run: Run): number {
  const slopes: number[] = []
  for (let k = 3; k < run.minuteT.length; k += 1) {
    const minutes = ((run.minuteT[k] ?? 0) - (run.minuteT[k - 3] ?? 0)) / MINUTE
    if (minutes > 0) slopes.push(((run.minuteV[k] ?? 0) - (run.minuteV[k - 3] ?? 0)) / minutes)
  }
  slopes.sort((a, b) => a - b)
  return slopes[Math.floor(slopes.length * 0.55)] ?? 0
}

function byMarks(plan: SitePlan, state: EngineState, run: Run, end: number): Delivered {
  if (plan.lowL === null || plan.highL === null || !run.startKnown || !run.endKnown) return UNKNOWN
  if (!run.lowDryAtStart || run.lowDrySince === null) return UNKNOWN
  const called = run.start - run.lowDrySince
  if (called > CALL_MAX_MS) return UNKNOWN
  const drawLH = usualDrawLH(state) ?? dailyNeedLH(plan)
  const hours = (end - run.start + Math.max(0, called)) / 3_600_000
  const draw = drawLH === null ? 0 : drawLH * hours
  const band = plan.highL - plan.lowL
  const marks = MARK_SD_M * plan.areaLM * Math.SQRT2
  const drawSd = drawLH === null ? 0.05 * band : Math.max(2, draw)
  return {
    volume: { value: band + draw, sd: Math.hypot(marks, drawSd) },
    levelStartM: null,
    levelEndM: null,
    drawL: draw,
  }
}

function dailyNeedLH(plan: SitePlan): number | null {
  const { dailyNeedL } = plan.site.water
  return dailyNeedL === null ? null : dailyNeedL / 24
}
