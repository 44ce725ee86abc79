/**
 * The drop of the voltage per ampere at each start of the pump, after the inrush: the resistance of battery and joints.
 * Compared with this site's own starts at like temperature, for a cold battery's resistance is higher.
 */
import type { SagFacts } from '../../model/facts-power.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import { pointsBetween, type Ring } from '../ring.js'
import type { EngineState, Run } from '../state.js'
import { fitLine, MAD_TO_SD, meanAndSd, median } from '../stats.js'
import { type PowerFixed, powerFixed } from './fixed.js'
import type { SagState } from './state.js'

/** Relative growth of the resistance for each °C of cold: lithium iron phosphate doubles from 20 to −10 °C [from memory]. */
const COLD = { lithium: 0.0231, lead: 0.009 } as const
/** So much of that growth may be wrong, either way, for a given battery [from memory]. */
const COLD_DOUBT = 0.5
/** So many starts must have been as cold before the cold is a known one. */
const COLD_STARTS = 3
/** Without any thermometer a battery may be so much colder than in the starts before, °C. */
const SEASON_C = 12
const LIKE_C = 8
const KEPT = 120
const LAST = 3
const LEAST_USUAL = 5
/** While few starts are known, their spread is taken to be at least this share. */
const FEW = 10
const FEW_SPREAD = 0.12
/** A start so far above the usual is not learned from: growth must not become its own measure. */
const NOT_USUAL = 1.25
const LEAST_A = 0.8
/** Uncertainty of one voltage reading at least, V: their last digit. */
const LEAST_VOLT_SD = 0.004

/** Looks whether a start is old enough to be measured, and measures it once. */
export function lookAtStart(plan: SitePlan, state: EngineState, at: Ms): void {
  const { sag } = state.power
  const { run } = state.pump
  if (run === null || run.firstOn === sag.doneAt) return
  const windowMs = windowOf(plan)
  if (at - run.firstOn < windowMs) return
  sag.doneAt = run.firstOn
  const fixed = powerFixed(plan)
  if (fixed === null || !run.startKnown || run.offAt !== null || run.end !== null) return
  if (state.battery.lowSince !== null) return
  const measured = measure(plan, state, run, windowMs, fixed)
  if (measured === null) return
  takeStart(state, at, measured, fixed)
  sag.facts = factsOf(sag, fixed)
}

/** As long as four readings take, within the time in which the slow part of the drop has hardly begun. */
function windowOf(plan: SitePlan): Ms {
  const board = plan.battery === null ? undefined : plan.signals[plan.battery]?.board
  const everyS = (board === undefined ? undefined : plan.site.boards[board]?.expectEveryS) ?? 15
  return Math.max(45, Math.min(200, 3 * everyS)) * SECOND
}

type Measured = { readonly ohm: number; readonly sd: number }

function measure(plan: SitePlan, state: EngineState, run: Run, windowMs: Ms, fixed: PowerFixed): Measured | null {
  const volts = plan.battery === plan.supply ? state.battery.volts : state.power.volts
  // The middle of the edge is known; the last sample at rest lies as far before it as the first that runs lies after.
  const off = 2 * run.start - run.firstOn
  const before = around(volts, off - windowMs, off)
  const after = around(volts, run.firstOn + 1, run.firstOn + windowMs)
  if (before === null || after === null) return null
  const pumpA = step(state.pump.recent, off, run.firstOn, windowMs)
  if (pumpA === null || pumpA.rise < LEAST_A) return null
  const charge = fixed.hasCurrent ? step(state.power.amps, off, run.firstOn, windowMs) : null
  let rise = pumpA.rise
  let riseSd = pumpA.sd
  if (charge !== null) {
    rise = -charge.rise
    riseSd = charge.sd
    // A charger that holds the voltage gives what the pump takes: the battery did not feel this start.
    if (rise < 0.5 * pumpA.rise || rise > 1.6 * pumpA.rise) return null
  } else if (before.mean >= fixed.heldV) return null
  const drop = before.mean - after.mean
  const sd = Math.hypot(before.sd, after.sd, (drop / rise) * riseSd) / rise
  return { ohm: drop / rise, sd }
}

type Mean = { readonly mean: number; readonly sd: number }

function around(ring: Ring, from: Ms, to: Ms): Mean | null {
  const { v } = pointsBetween(ring, from, to, 16)
  if (v.length < 2) return null
  const { mean, sd } = meanAndSd(v)
  return { mean, sd: Math.max(LEAST_VOLT_SD, sd) / Math.sqrt(v.length) }
}

function step(ring: Ring, off: Ms, on: Ms, windowMs: Ms): { rise: number; sd: number } | null {
  const before = around(ring, off - windowMs, off)
  const after = around(ring, on + 1, on + windowMs)
  if (before === null || after === null) return null
  return { rise: after.mean - before.mean, sd: Math.hypot(before.sd, after.sd) }
}

function temperature(state: EngineState, at: Ms): { c: number | null; from: SagState['lastFrom'] } {
  const { battery, power } = state
  if (battery.temperatureC !== null && at - battery.temperatureT < HOUR)
    return { c: battery.temperatureC, from: 'battery' }
  if (power.slowAirC !== null) return { c: power.slowAirC, from: 'air' }
  return { c: null, from: null }
}

function takeStart(state: EngineState, at: Ms, measured: Measured, fixed: PowerFixed): void {
  const { sag } = state.power
  const { c, from } = temperature(state, at)
  const share = c === null ? 1 : Math.exp((20 - c) * coldOf(fixed))
  const ohm = measured.ohm / share
  const sd = measured.sd / share
  const usual = usualOf(sag, c, Number.POSITIVE_INFINITY)
  // A start that tells hardly anything is none.
  if (sd > 0.6 * Math.abs(usual?.value ?? ohm)) return
  sag.lastT.push(at)
  sag.lastOhm.push(rounded(ohm))
  sag.lastSd.push(rounded(sd))
  if (sag.lastT.length > LAST) {
    sag.lastT.shift()
    sag.lastOhm.shift()
    sag.lastSd.shift()
  }
  sag.lastC = c === null ? null : Math.round(c * 10) / 10
  sag.lastFrom = from
  const known = usual !== null && usual.n >= LEAST_USUAL
  if (known && ohm > NOT_USUAL * doubtOf(sag, c, fixed, Number.POSITIVE_INFINITY) * usual.value + usual.sd) return
  sag.day.push(Math.round((at / DAY) * 100) / 100)
  sag.ohm.push(rounded(ohm))
  sag.celsius.push(sag.lastC)
  if (sag.ohm.length > KEPT) {
    sag.day.shift()
    sag.ohm.shift()
    sag.celsius.shift()
  }
}

function rounded(ohm: number): number {
  return Math.round(ohm * 1e5) / 1e5
}

function coldOf(fixed: PowerFixed): number {
  return fixed.lithium ? COLD.lithium : COLD.lead
}

/** Of the starts before `until` (in days): those at like temperature where they are enough, else all. */
function usualOf(
  sag: SagState,
  celsius: number | null,
  until: number,
): { value: number; sd: number; n: number } | null {
  const like: number[] = []
  const all: number[] = []
  for (let i = 0; i < sag.ohm.length; i += 1) {
    if ((sag.day[i] ?? 0) >= until) break
    const ohm = sag.ohm[i] ?? 0
    const c = sag.celsius[i] ?? null
    all.push(ohm)
    if (celsius !== null && c !== null && Math.abs(c - celsius) <= LIKE_C) like.push(ohm)
  }
  const values = like.length >= LEAST_USUAL ? like : all
  if (values.length === 0) return null
  const value = median(values)
  const spread = MAD_TO_SD * median(values.map((one) => Math.abs(one - value)))
  const least = values.length < FEW ? FEW_SPREAD * Math.abs(value) : 0
  return { value, sd: Math.max(spread, least), n: values.length }
}

/** How much more than the usual the cold might explain, being colder than three starts before `until` were. */
function doubtOf(sag: SagState, celsius: number | null, fixed: PowerFixed, until: number): number {
  const known: number[] = []
  for (let i = 0; i < sag.celsius.length && (sag.day[i] ?? 0) < until; i += 1) {
    const c = sag.celsius[i] ?? null
    if (c !== null) known.push(c)
  }
  if (celsius === null || known.length < COLD_STARTS) return Math.exp(coldOf(fixed) * SEASON_C)
  const coldest = known.sort((a, b) => a - b)[COLD_STARTS - 1] ?? celsius
  return Math.exp(COLD_DOUBT * coldOf(fixed) * Math.max(0, coldest - celsius))
}

/** What the starts say; null until three could be measured after eight usual ones. */
function factsOf(sag: SagState, fixed: PowerFixed): SagFacts | null {
  const since = sag.lastT[0]
  const lastAt = sag.lastT.at(-1)
  if (since === undefined || lastAt === undefined || sag.lastT.length < LAST) return null
  // The last starts are not among their own measure.
  const before = since / DAY - 0.005
  const usual = usualOf(sag, sag.lastC, before)
  if (usual === null || usual.n < LEAST_USUAL || usual.value <= 0) return null
  // Median of three normal values has 0.67 of the sd of one (David & Nagaraja, Order Statistics, from memory).
  const sdOhm = 0.67 * Math.max(usual.sd, median(sag.lastSd))
  return {
    ohm: median(sag.lastOhm),
    sdOhm,
    usual: { value: usual.value, sd: usual.sd, starts: usual.n },
    doubt: doubtOf(sag, sag.lastC, fixed, before),
    temperatureFrom: sag.lastFrom,
    temperatureC: sag.lastC,
    since,
    lastAt,
    trendOhm: trend(sag),
  }
}

/** A straight line through the starts that were as usual, once they are enough and span three weeks. */
function trend(sag: SagState): SagFacts['trendOhm'] {
  const first = sag.day[0] ?? 0
  if (sag.day.length < 15 || (sag.day.at(-1) ?? 0) - first < 21) return null
  const line = fitLine(sag.day, sag.ohm)
  return line === null ? null : { value: 30 * line.slope, sd: 30 * line.slopeSd }
}

/** The air as a battery in its box would follow it, for sites without a thermometer at the battery. */
export function followSlowAir(state: EngineState, at: Ms, dtS: number): void {
  if (state.airC === null || at - state.airT > 30 * MINUTE) return
  const { power } = state
  power.slowAirC =
    power.slowAirC === null
      ? state.airC
      : power.slowAirC + (state.airC - power.slowAirC) * (1 - Math.exp(-dtS / 43_200))
}
