/**
 * How full the battery is: when it was last full, counted from there by ampere-hours where its current is measured,
 * else in bands from its resting voltage. Lithium iron phosphate is never judged by voltage in its flat part.
 */
import type { ChargeFacts, CutOffFacts } from '../../model/facts-power.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import { remember } from '../ring.js'
import type { EngineState } from '../state.js'
import { type PowerFixed, powerFixed } from './fixed.js'
import type { ChargeState } from './state.js'

/** A longer gap is not counted over: what went in it is doubt. */
const GAP_MS = 3 * MINUTE
const LOAD_TAU_S = 86_400
/** Battery and configuration do not agree better than this on the capacity, nor on what is full [common practice]. */
const CAPACITY_SD = 0.07
const FULL_SD = 0.02
/** What is left at the cut-off, and its doubt [common practice]. */
const AT_CUT_OFF = 0.05
const AT_CUT_OFF_SD = 0.04
/** A count with more doubt than this is no count. */
const SD_MAX = 0.2
const BAND_HOLDS_MS = 16 * HOUR

/** Takes a reading of the battery's current, A, + charges. */
export function takeBatteryAmps(plan: SitePlan, state: EngineState, t: Ms, amperes: number): void {
  const { power } = state
  const { charge } = power
  remember(power.amps, t, amperes)
  const dtMs = t - power.ampT
  const mean = (amperes + power.ampA) / 2
  power.ampT = t
  power.ampA = amperes
  if (dtMs <= 0) return
  const s = dtMs / 1000
  if (dtMs > GAP_MS) {
    charge.gapS += Math.min(s, 10 * 86_400)
    return
  }
  if (mean < 0) {
    charge.outAs -= mean * s
    charge.loadS = Math.min(LOAD_TAU_S, charge.loadS + s)
    charge.loadA += (-mean - charge.loadA) * (s / Math.max(s, charge.loadS))
  } else charge.inAs += mean * s
  if (charge.belowAs !== null) {
    const kept = powerFixed(plan)?.kept ?? 1
    charge.belowAs = Math.max(0, charge.belowAs - (mean > 0 ? mean * kept : mean) * s)
  }
}

/** The battery is full now: the count begins here. */
export function anchor(charge: ChargeState, at: Ms): void {
  charge.belowAs = 0
  charge.anchorAt = at
  charge.inAs = 0
  charge.outAs = 0
  charge.gapS = 0
}

/** Volts at rest for a 12 V battery against its charge, 25 °C [common practice]; lithium only where it is not flat. */
const LEAD_REST: readonly (readonly [number, number])[] = [
  [11.8, 0],
  [12.0, 0.25],
  [12.25, 0.5],
  [12.48, 0.75],
  [12.75, 1],
]
/** Half the width of what a resting voltage is good for, per 12 V: surface charge, load, temperature, sensor. */
const LEAD_REST_V = 0.12
/** Up to these volts per 12 V, lithium iron phosphate lies between these shares [common practice]. */
const LITHIUM_REST: readonly (readonly [number, number, number])[] = [
  [12.5, 0, 0.1],
  [12.9, 0, 0.2],
  [13.0, 0.05, 0.4],
  [13.33, 0.2, 0.95],
  [Number.POSITIVE_INFINITY, 0.7, 1],
]

/** Keeps the band of a voltage at rest with nothing charging. */
export function lookAtRest(state: EngineState, at: Ms, volts: number, fixed: PowerFixed): void {
  const per12 = (volts * 12) / fixed.nominalV
  if (fixed.lithium) {
    const found = LITHIUM_REST.find(([upTo]) => per12 < upTo)
    if (found !== undefined) state.power.charge.band = { low: found[1], high: found[2], at }
    return
  }
  const low = Math.floor(20 * shareAtRest(per12 - LEAD_REST_V)) / 20
  const high = Math.ceil(20 * shareAtRest(per12 + LEAD_REST_V)) / 20
  state.power.charge.band = { low, high, at }
}

function shareAtRest(volts: number): number {
  const [first] = LEAD_REST
  if (first === undefined || volts <= first[0]) return 0
  for (let i = 1; i < LEAD_REST.length; i += 1) {
    const [v0, s0] = LEAD_REST[i - 1] ?? first
    const [v1, s1] = LEAD_REST[i] ?? first
    if (volts <= v1) return s0 + ((s1 - s0) * (volts - v0)) / (v1 - v0)
  }
  return 1
}

/** State of charge with its doubt, or the band; null: neither is known. */
export function chargeFacts(plan: SitePlan, state: EngineState, at: Ms): ChargeFacts | null {
  const fixed = powerFixed(plan)
  if (fixed === null) return null
  return counted(state, at, fixed) ?? band(state, at)
}

function counted({ power }: EngineState, at: Ms, fixed: PowerFixed): ChargeFacts | null {
  const { charge } = power
  if (charge.belowAs === null || fixed.capacityAs === null || at - power.ampT > GAP_MS) return null
  const below = charge.belowAs / fixed.capacityAs
  const elapsedS = (at - charge.anchorAt) / 1000
  const sd = Math.hypot(
    FULL_SD,
    CAPACITY_SD * below,
    (fixed.currentSd * elapsedS) / fixed.capacityAs,
    (fixed.currentGainSd * (charge.outAs - charge.inAs)) / fixed.capacityAs,
    (fixed.keptSd * charge.inAs) / fixed.capacityAs,
    (charge.gapS * Math.max(charge.loadA, 0.005 * (fixed.capacityAs / 3600))) / fixed.capacityAs,
  )
  if (sd > SD_MAX) return null
  const share = Math.max(0, Math.min(1, 1 - below))
  return {
    share,
    sd,
    low: Math.max(0, share - 2 * sd),
    high: Math.min(1, share + 2 * sd),
    by: 'counted',
    from: charge.anchorAt,
  }
}

function band({ power }: EngineState, at: Ms): ChargeFacts | null {
  const { band: kept } = power.charge
  if (power.full.full) return { share: null, sd: null, low: 0.95, high: 1, by: 'voltage', from: at }
  if (kept === null || at - kept.at > BAND_HOLDS_MS) return null
  return { share: null, sd: null, low: kept.low, high: kept.high, by: 'voltage', from: kept.at }
}

/** Mean discharge while it discharges, A; null until an hour of it was seen. */
export function loadOf({ power }: EngineState): number | null {
  return power.charge.loadS < 3600 || power.charge.loadA <= 0 ? null : power.charge.loadA
}

/**
 * Hours to the cut-off at this load without sun: by the counted charge, with the doubts of count, capacity and load; near
 * the end also by the falling voltage, with the doubt of its line. Of two answers the shorter one counts.
 */
export function cutOffFacts(
  plan: SitePlan,
  state: EngineState,
  charge: ChargeFacts | null,
  falling: { readonly hours: number; readonly relativeSd: number } | null,
): CutOffFacts | null {
  const byCharge = byCount(plan, state, charge)
  const byVolts = falling === null ? null : byVoltage(falling)
  if (byCharge === null || byVolts === null) return byCharge ?? byVolts
  return byCharge.hours < byVolts.hours ? byCharge : byVolts
}

/** The voltage falls ever faster at the end: the line's answer is the longest it can be. */
function byVoltage(falling: { readonly hours: number; readonly relativeSd: number }): CutOffFacts {
  const spread = 1 + 2 * Math.min(1, falling.relativeSd)
  return { hours: falling.hours, lowH: (0.5 * falling.hours) / spread, highH: falling.hours * spread, by: 'voltage' }
}

function byCount(plan: SitePlan, state: EngineState, charge: ChargeFacts | null): CutOffFacts | null {
  const capacityAs = powerFixed(plan)?.capacityAs ?? null
  const loadA = loadOf(state)
  if (capacityAs === null || loadA === null || charge === null || charge.share === null || charge.sd === null)
    return null
  const left = charge.share - AT_CUT_OFF
  const sd = Math.hypot(charge.sd, AT_CUT_OFF_SD)
  const perShareH = capacityAs / 3600 / loadA
  // Tonight's load is not last night's: a quarter more or less.
  return {
    hours: Math.max(0, left) * perShareH,
    lowH: (Math.max(0, left - 2 * sd) * perShareH) / 1.25,
    highH: (Math.max(0, left + 2 * sd) * perShareH) / 0.75,
    by: 'counted',
  }
}
