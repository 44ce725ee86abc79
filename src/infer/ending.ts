/** Why a run ended. Four kinds of stop must never be mixed up: full, dry, cut-off, and lost data. */
import type { EndReason } from '../model/fill.js'
import { MINUTE, SECOND } from '../model/time.js'
import type { SitePlan } from './plan.js'
import { usualCurrent, usualCurrentHere } from './pump.js'
import { between, firstFrom } from './ring.js'
import type { EngineState, Run } from './state.js'
import { median } from './stats.js'
import { usual } from './usual.js'

const LIGHT_LEAST_MS = 30 * SECOND
/** A probe wet this near to the stop is the mark that stopped it. */
export const CONTACT_NEAR_MS = 90 * SECOND

export function endReason(plan: SitePlan, state: EngineState, run: Run): EndReason {
  if (run.end === null || !run.endKnown) return reachedFull(plan, state, run) ? 'full' : 'unknown'
  if (stalled(plan, state, run)) return 'stalled'
  // A wet high probe is a plain word; a level near the mark is not, where the current had fallen before the stop.
  const full = reachedFull(plan, state, run)
  if (full && plan.index['tank-probe-high'] !== undefined) return 'full'
  const { lightSince, lastOn } = run
  if (lightSince !== null && (lastOn - lightSince >= LIGHT_LEAST_MS || gulped(plan, state, run))) return 'dry'
  if (full) return 'full'
  if (powerLost(plan, state, run, run.end)) return 'power-lost'
  return canTellFull(plan) ? 'manual' : 'unknown'
}

/** A gulp of water now and then interrupts the light current of a well that is all but dry. */
const GULPS_MS = 90 * SECOND
const GULPS_SHARE = 0.5

function gulped(plan: SitePlan, state: EngineState, run: Run): boolean {
  const expected = usualCurrentHere(plan, state)
  if (expected === null) return false
  const last = between(state.pump.recent, Math.max(run.firstOn + MINUTE, run.lastOn - GULPS_MS), run.lastOn)
  return last.length >= 5 && last.filter((amps) => amps < 0.8 * expected).length >= GULPS_SHARE * last.length
}

function stalled(plan: SitePlan, state: EngineState, run: Run): boolean {
  if (run.heavyCount >= 2) return true
  const { end } = run
  const expected = usualCurrent(plan, state)
  if (expected === null || end === null || end - run.start >= 20 * SECOND || run.peakA <= 2 * expected) return false
  // One heavy sample in one short run may be the inrush of a control that chatters; tries that are mostly heavy are not.
  const since = end - 10 * MINUTE
  const tries = state.pump.heavyTries.filter((t) => t >= since).length
  const starts = state.pump.starts.filter((t) => t >= since).length
  return tries >= 2 && 2 * tries >= starts
}

function canTellFull(plan: SitePlan): boolean {
  return plan.index['tank-level'] !== undefined || plan.index['tank-probe-high'] !== undefined
}

function reachedFull(plan: SitePlan, state: EngineState, run: Run): boolean {
  const end = run.end ?? run.lastOn
  const { high, levels } = state.water
  if (plan.index['tank-probe-high'] !== undefined && high.seen) {
    return run.highWetAt !== null && run.highWetAt >= end - CONTACT_NEAR_MS
  }
  const tank = plan.site.tank
  if (plan.index['tank-level'] === undefined || tank === null) return false
  const after = firstFrom(levels, end - 30 * SECOND, end + 3 * MINUTE, 9)
  if (after.length === 0) return false
  return median(after) >= fullLevelM(plan, state) - fullToleranceM(plan, state)
}

/** The level at which this control really stops: learned from its own fills, else the configured mark. */
export function fullLevelM(plan: SitePlan, state: EngineState): number {
  const mark = plan.site.tank?.highMarkM ?? 0
  const learned = usual(state.usual.endLevelM, 3)
  return learned !== null && Math.abs(learned.value - mark) < 0.05 ? learned.value : mark
}

function fullToleranceM(plan: SitePlan, state: EngineState): number {
  const tank = plan.site.tank
  const band = tank === null ? 0 : tank.highMarkM - tank.lowMarkM
  const learned = usual(state.usual.endLevelM, 3)
  return learned === null ? Math.max(0.015, 0.1 * band) : Math.max(0.008, 4 * learned.sd, 0.04 * band)
}

/** Under load the voltage had sunk near the cut-off, and it jumped back (or went dark) when the pump stopped. */
function powerLost(plan: SitePlan, state: EngineState, run: Run, end: number): boolean {
  if (plan.limits === null) return false
  const before = between(state.battery.volts, end - 2 * MINUTE, run.lastOn)
  if (before.length === 0) return false
  const after = firstFrom(state.battery.volts, run.offAt ?? end, end + 3 * MINUTE, 5)
  const lowest = Math.min(...before)
  if (lowest <= plan.limits.loaded) return true
  return after.length > 0 && Math.min(...after) < plan.limits.cutOff * 0.8
}
