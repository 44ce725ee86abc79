/** When the battery is full, by chemistry and by what is measured, and on how many days since it was not. */
import { HOUR, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { anchor } from './charge.js'
import type { PowerFixed } from './fixed.js'

/** Seconds near full at a small current, floating after absorption, or in absorption alone, that make it full. */
const NEAR_S = { lithium: 300, lead: 1_200 } as const
const FLOAT_S = 2_700
const ABSORBED_FIRST_S = 900
const ABSORB_S = { lithium: 1_800, lead: 7_200 } as const
/** A lithium battery at rest passes no more than this share of its capacity an hour. */
const REST_SHARE = 0.02
/** It is called full for this long after it was last seen to be. */
const FULL_FOR_MS = HOUR
/** A day counts when the voltage was known for this share of its daylight. */
const SEEN_SHARE = 0.7
/** Daylight where the configuration does not say where the site is: hours of the local day. */
const DAY_FROM_MS = 8 * HOUR
const DAY_TO_MS = 17 * HOUR

/** Takes one look at the voltage; `sunUp` null: not known where the sun is. `batteryA` null: not measured. */
export function lookAtFull(
  plan: SitePlan,
  state: EngineState,
  at: Ms,
  dtS: number,
  volts: number | null,
  batteryA: number | null,
  sunUp: boolean | null,
  fixed: PowerFixed,
): void {
  const { full } = state.power
  const { start } = plan.calendar.dayOf(at)
  if (start !== full.dayStart) beginDay(state, start, at)
  const day = sunUp ?? (at - start >= DAY_FROM_MS && at - start < DAY_TO_MS)
  if (day) full.sunS += dtS
  full.full = full.lastAt !== null && at - full.lastAt <= FULL_FOR_MS
  if (volts === null) return
  if (day) full.seenS += dtS
  if (
    fixed.hasCurrent
      ? batteryA !== null && isFullByCurrent(state, volts, batteryA, dtS, fixed)
      : isFullByVoltage(state, volts, dtS, fixed)
  ) {
    full.full = true
    full.lastAt = at
    full.daysNot = 0
    anchor(state.power.charge, at)
  }
}

/** At the end of a local day: was it seen, and was the battery full in it? */
function beginDay(state: EngineState, start: Ms, at: Ms): void {
  const { full } = state.power
  const first = full.dayStart === 0
  const wasFull = full.lastAt !== null && full.lastAt >= full.dayStart
  const seen = full.sunS > 3 * 3600 && full.seenS >= SEEN_SHARE * full.sunS
  // A day that was missed altogether is none in which it was seen not to be full.
  if (!first && !wasFull && seen && at - full.dayStart < 26 * HOUR) full.daysNot += 1
  full.dayStart = start
  full.absorbS = 0
  full.floatS = 0
  full.sunS = 0
  full.seenS = 0
}

/** The charger holds the voltage and hardly any current goes in; or, lithium, it rests at a voltage of a full one. */
function isFullByCurrent(state: EngineState, volts: number, batteryA: number, dtS: number, fixed: PowerFixed): boolean {
  const { full } = state.power
  const capacityAh = (fixed.capacityAs ?? 100 * 3600) / 3600
  const taperA = fixed.taperA ?? 0.04 * capacityAh
  const held = volts >= fixed.absorbV && batteryA < taperA && batteryA > -taperA
  const resting = fixed.restFullV !== null && volts >= fixed.restFullV && Math.abs(batteryA) <= REST_SHARE * capacityAh
  // Lead-acid floats at a trickle: reached only from absorption, since a charger that gives up early also floats.
  const floats =
    fixed.restFullV === null && full.nearS > 0 && volts >= fixed.floatV && Math.abs(batteryA) < 0.01 * capacityAh
  const goal = NEAR_S[fixed.lithium ? 'lithium' : 'lead']
  full.nearS = held || resting || floats ? Math.min(2 * goal, full.nearS + dtS) : Math.max(0, full.nearS - dtS)
  return full.nearS >= goal && (held || resting || floats)
}

/** Without a current: hours of absorption, or the fall to float after some of it. The pump's dips do not count against it. */
function isFullByVoltage(state: EngineState, volts: number, dtS: number, fixed: PowerFixed): boolean {
  const { full } = state.power
  const absorbing = volts >= fixed.absorbV
  const floating = !absorbing && volts >= fixed.floatV && full.absorbS >= ABSORBED_FIRST_S
  if (absorbing) full.absorbS += dtS
  if (floating) full.floatS += dtS
  return (
    (absorbing && full.absorbS >= ABSORB_S[fixed.lithium ? 'lithium' : 'lead']) || (floating && full.floatS >= FLOAT_S)
  )
}

/** The evening of a day that is seen not to have become full counts as soon as the sun has gone. */
export function daysNotFull(state: EngineState, sunUp: boolean | null, at: Ms): number {
  const { full } = state.power
  const evening = sunUp === false && full.sunS > 3 * 3600 && at - full.dayStart > 13 * HOUR
  const seen = full.seenS >= SEEN_SHARE * full.sunS
  const today = evening && seen && (full.lastAt === null || full.lastAt < full.dayStart) ? 1 : 0
  return full.daysNot + today
}
