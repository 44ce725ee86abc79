/** Water that leaves the tank though nobody draws and the pump rests, as a level sensor shows it. */
import type { Fall, SteadyFall } from '../../model/facts-loss.js'
import type { Figure } from '../../model/fill.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { anyL, BIN_MS, BINS_IN_HOUR, binSdL, drawStepL, isFine, newest, restFalls, restL } from './bins.js'
import { driftL, isQuiet, soundL } from './drift.js'
import { usualNight } from './nights.js'
import { quietFall, theilSen } from './slope.js'
import { quietHoursAt } from './use.js'

/**
 * Lengths of stretch that are tried, in bins, and the least rate that each may show, l/h: the shorter the stretch, the
 * more a draw may look like it.
 */
const STRETCHES = [
  { bins: 12, leastLH: 60 },
  { bins: 18, leastLH: 30 },
  { bins: 30, leastLH: 12 },
  { bins: 48, leastLH: 2 },
  { bins: 72, leastLH: 2 },
  { bins: 144, leastLH: 2 },
] as const
const LONGEST = 144
/** A fall must be more than this of level whatever the sensor promises: settling, waves, the last digit. */
const SURELY_M = 0.004
/** Of the sensor's own wandering within a day, this much may fall into a stretch; the whole from three hours on. */
const DRIFT_SHARE = 1.5
const DRIFT_WHOLE_H = 3
/** A stream scatters as the readings do; many small uses scatter more. Large losses may be rough: a valve that refills. */
const SMOOTH = 1.3
const ROUGH_LH = 10

/** Looks for a fall that goes on evenly up to the newest bin. */
export function steadyFall(plan: SitePlan, state: EngineState, at: Ms): SteadyFall | null {
  const { loss } = state
  const falls = restFalls(loss, LONGEST)
  const sd = binSdL(plan, state)
  const step = drawStepL(plan, state)
  const drift = driftL(plan, state)
  const fine = isFine(plan, state)
  for (const { bins, leastLH } of STRETCHES) {
    if (falls.length < bins) return null
    const stretch = falls.slice(falls.length - bins)
    const fell = stretch.reduce((sum, fall) => sum + fall, 0)
    if (fell * BINS_IN_HOUR < leastLH * bins) continue
    const found = quietFall(stretch, sd, step)
    const rateLH = found.perStep * BINS_IN_HOUR
    const hours = bins / BINS_IN_HOUR
    const wander = DRIFT_SHARE * drift * Math.min(1, hours / DRIFT_WHOLE_H)
    const least = wander + 3 * Math.SQRT2 * sd + SURELY_M * plan.areaLM
    if (rateLH < leastLH || found.perStep * bins < least || !found.even) continue
    const smooth = found.roughness <= SMOOTH
    if (fine && rateLH < ROUGH_LH && !smooth) continue
    return describe(
      plan,
      state,
      at,
      bins,
      rateLH,
      found.draws === 0 && fine && smooth,
      (wander / DRIFT_SHARE / 2 + sd) / hours,
    )
  }
  return null
}

function describe(
  plan: SitePlan,
  state: EngineState,
  at: Ms,
  bins: number,
  rateLH: number,
  drawless: boolean,
  doubtLH: number,
): SteadyFall {
  const since = at - bins * BIN_MS
  const night = quietHoursAt(plan, state.loss, at - BIN_MS)
  const inQuietHours = night !== null && since >= night - BIN_MS
  if (!drawless) return { since, hours: bins / BINS_IN_HOUR, rateLH, rateSdLH: doubtLH, inQuietHours, drawless }
  const robust = slopeOf(state, bins)
  return {
    since,
    hours: bins / BINS_IN_HOUR,
    rateLH: robust?.rateLH ?? rateLH,
    rateSdLH: Math.hypot(robust?.sdLH ?? 0, doubtLH),
    inQuietHours,
    drawless,
  }
}

const POINTS_MOST = 36

/** Theil–Sen through the bins of the stretch, thinned to a bounded number. */
function slopeOf(state: EngineState, bins: number): { rateLH: number; sdLH: number } | null {
  const end = newest(state.loss)
  const every = Math.max(1, Math.ceil(bins / POINTS_MOST))
  const x: number[] = []
  const y: number[] = []
  for (let bin = end - bins; bin <= end; bin += every) {
    const volume = restL(state.loss, bin)
    if (volume === null) continue
    x.push((bin - end) / BINS_IN_HOUR)
    y.push(volume)
  }
  const line = x.length >= 6 ? theilSen(x, y) : null
  return line === null ? null : { rateLH: -line.slope, sdLH: (line.high - line.low) / 3.92 }
}

const BIG_LH = 200
/** Falls of so many bins on end; each must show most of the rate, the first may have begun within its bin. */
const BIG_BINS = 4
const BIG_SHARE = 0.8
const BIG_KEPT_MS = 60 * 24 * HOUR

/** More than 200 l/h without a pause, the pump at rest or not: a running pump only hides a part of it. */
export function bigFall(plan: SitePlan, state: EngineState, at: Ms): SteadyFall | null {
  const { loss } = state
  const end = newest(loss)
  const least = Math.max((BIG_SHARE * BIG_LH) / BINS_IN_HOUR, 3 * Math.SQRT2 * binSdL(plan, state))
  let count = 0
  for (let bin = end; bin > loss.first; bin -= 1) {
    const after = anyL(loss, bin)
    const before = anyL(loss, bin - 1)
    if (after === null || before === null || before - after < least) break
    count += 1
  }
  followLongest(state, at, count)
  if (count < BIG_BINS) return null
  const hours = count / BINS_IN_HOUR
  const rateLH = ((anyL(loss, end - count) ?? 0) - (anyL(loss, end) ?? 0)) / hours
  const since = at - count * BIN_MS
  const night = quietHoursAt(plan, loss, at - BIN_MS)
  const inQuietHours = night !== null && since >= night - BIN_MS
  return { since, hours, rateLH, rateSdLH: (Math.SQRT2 * binSdL(plan, state)) / hours, inQuietHours, drawless: false }
}

/** The longest such draw that ended: the garden hose of this household. */
function followLongest(state: EngineState, at: Ms, count: number): void {
  const { loss } = state
  if (at - loss.longestAt > BIG_KEPT_MS) loss.longestMin = 0
  if (count > 0) {
    loss.bigSince ??= at - count * BIN_MS
    return
  }
  if (loss.bigSince === null) return
  const minutes = (at - BIN_MS - loss.bigSince) / MINUTE
  loss.bigSince = null
  if (minutes <= loss.longestMin) return
  loss.longestMin = minutes
  loss.longestAt = at
}

/** Less than this in a day is evaporation, a drip, the sensors. */
const DAY_LEAST_L = 40
const DAY_BINS = 24 * BINS_IN_HOUR
const WANDER_SHARE = 1.2
const NIGHT_SHARE = 0.35

/** Litres that left the tank since the same hour of the day before, pumped water counted; null where it is not known. */
export function lostInDay(plan: SitePlan, state: EngineState, at: Ms): Figure | null {
  const end = newest(state.loss)
  const now = around(state.loss, end)
  const before = around(state.loss, end - DAY_BINS)
  if (now === null || before === null || state.pump.run !== null) return null
  let pumped = 0
  let variance = 2 * binSdL(plan, state) ** 2
  for (const fill of state.loss.fills) {
    if (fill.end <= at - 24 * HOUR || fill.end > at) continue
    if (fill.litres === null) return null
    pumped += fill.litres
    variance += fill.variance
  }
  return { value: before + pumped - now, sd: Math.sqrt(variance) }
}

/**
 * The same as a loss, for a place where nobody is: no draw was seen in that day. At the same hour a sensor that follows
 * the air's temperature is off by nearly the same; what the temperatures of the two hours differ by is allowed for.
 */
export function sameHourFall(plan: SitePlan, state: EngineState, at: Ms): Fall | null {
  const { lastDrawAt } = state.loss
  if (lastDrawAt !== null && at - lastDrawAt < 24 * HOUR) return null
  const lost = lostInDay(plan, state, at)
  if (lost === null) return null
  const wander = isQuiet(plan, state) ? driftL(plan, state) / 2 : temperatureL(plan, state, at)
  if (lost.value < Math.max(DAY_LEAST_L, 3 * lost.sd + WANDER_SHARE * wander)) return null
  const rateLH = lost.value / 24
  if (!isFine(plan, state) && !alsoByNight(state, rateLH)) return null
  const rateSdLH = Math.hypot(lost.sd, wander / 2) / 24
  return { since: at - 24 * HOUR, hours: 24, rateLH, rateSdLH }
}

/** A leak is there in the night too; people whom a coarse sensor does not show sleep. */
function alsoByNight(state: EngineState, rateLH: number): boolean {
  const usual = usualNight(state.loss)
  const night = state.loss.nightLH.at(-1)
  return usual === null || night === undefined || night - usual.rateLH > NIGHT_SHARE * rateLH
}

/** Mean of the bins at rest around one, within a quarter of an hour. */
function around(loss: EngineState['loss'], bin: number): number | null {
  let sum = 0
  let n = 0
  for (let k = -3; k <= 0; k += 1) {
    const volume = restL(loss, bin + k)
    if (volume === null) continue
    sum += volume
    n += 1
  }
  return n >= 2 ? sum / n : null
}

/** Where the air is not measured, two days at the same hour may differ by this much, °C. */
const UNKNOWN_CHANGE_C = 8

/** Litres by which the two hours' temperatures may have moved the reading. */
function temperatureL(plan: SitePlan, state: EngineState, at: Ms): number {
  const { loss, water } = state
  const hour = Math.floor(at / HOUR)
  const now = loss.air[hour - 1 - loss.airHour]
  const before = loss.air[hour - 25 - loss.airHour]
  const known = now !== undefined && now !== null && before !== undefined && before !== null
  const change = known ? (now - before) / 10 : UNKNOWN_CHANGE_C
  // The air in the tank lags behind the air outside.
  return soundL(plan, water.restLevelM ?? plan.site.tank?.lowMarkM ?? 0, Math.abs(change) + 2)
}
