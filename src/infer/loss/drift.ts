/** How far a level reading can wander by itself: what an ultrasonic sensor makes of a change of the air's temperature. */
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { quantile } from '../stats.js'
import { QUIET_HOURS } from './use.js'

/** Relative change of the speed of sound for each °C, 0.6 m/s of 339 m/s (dry air about 12 °C). */
const SOUND_PER_C = 0.00177
/** A sensor that looks down hangs about this far above the overflow. */
const ABOVE_FULL_M = 0.3
/** Day and night on a clear dry day [common practice], where the air's temperature is not measured. */
const DAILY_SWING_C = 20
/** Nights seen before a sensor may be called quiet. */
const NIGHTS_LEAST = 4
/** The day's swing against that of its quiet hours: most of a clear day's fall comes in the evening. */
const DAY_TO_NIGHT = 4

/** The most that a change of so many °C does to the reading of a sensor above the water, litres. */
export function soundL(plan: SitePlan, levelM: number, changeC: number): number {
  const full = plan.site.tank?.fullM ?? levelM
  return Math.max(0, full + ABOVE_FULL_M - levelM) * SOUND_PER_C * Math.abs(changeC) * plan.areaLM
}

/**
 * What this sensor's reading may be off by within a day, litres. From the site's own nights and from rises at rest,
 * which no water makes; before there are enough of them the worst that an ultrasonic sensor does.
 */
export function driftL(plan: SitePlan, state: EngineState): number {
  const { loss } = state
  const worst = soundL(plan, state.water.restLevelM ?? plan.site.tank?.lowMarkM ?? 0, DAILY_SWING_C)
  const nights: number[] = []
  for (let i = 0; i < loss.nightLH.length; i += 1) {
    const beyond = Math.abs(loss.nightLH[i] ?? 0) - (loss.nightSd[i] ?? 0)
    if (loss.nightOdd[i] === 0) nights.push(Math.max(0, beyond) * QUIET_HOURS)
  }
  if (nights.length < NIGHTS_LEAST) return worst
  const byNight = DAY_TO_NIGHT * quantile(nights, 0.75)
  return Math.min(1.5 * worst, Math.max(byNight, secondLargest(loss.rises), loss.riseL * 0.5))
}

/** One rise may be a second source or rain. */
function secondLargest(values: readonly number[]): number {
  let first = 0
  let second = 0
  for (const value of values) {
    if (value > first) {
      second = first
      first = value
    } else if (value > second) second = value
  }
  return second
}

/** How far the reading of a sensor that has shown itself to follow the air may be off, m; 0 for any other. */
export function wanderM(plan: SitePlan, state: EngineState): number {
  const unproven = state.loss.nightLH.length < NIGHTS_LEAST
  const coarse = state.water.noiseN >= 30 && Math.sqrt(state.water.noiseVar) > COARSE_M
  if (plan.areaLM <= 0 || (unproven ? !coarse : isQuiet(plan, state))) return 0
  return (WANDER_SHARE * driftL(plan, state)) / plan.areaLM
}

/** Readings that scatter so are taken for an ultrasonic sensor's until its nights have been seen. */
const COARSE_M = 0.004

/** Marks are learned from fills at all hours: about half of the day's swing lies to either side. */
const WANDER_SHARE = 0.5

/** A sensor whose reading wanders by less than this within a day is quiet: its falls are water. */
const QUIET_M = 0.008

export function isQuiet(plan: SitePlan, state: EngineState): boolean {
  return state.loss.nightLH.length >= NIGHTS_LEAST && driftL(plan, state) < QUIET_M * plan.areaLM
}
