/** Readings that no battery and no pump of this site can give: another scale, or a sensor that has come off. */
import { MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import { usualCurrent } from '../pump.js'
import type { EngineState } from '../state.js'

/** A battery that still feeds boards has more than this share of its nominal voltage: less is a sensor that has come off. */
const DEAD_SHARE = 0.3
/** Below and above these shares no battery of that nominal voltage works or is charged (common practice: 0.8 to 1.35). */
const LOW_SHARE = 0.62
const HIGH_SHARE = 1.6
/** A locked rotor draws up to eight times the usual (common practice); this much more is no current of this pump. */
const CURRENT_SHARE = 12

export function isOdd(plan: SitePlan, state: EngineState, index: number, value: number): boolean {
  if (index === plan.index['battery-voltage'] && plan.nominalV !== null) {
    const share = value / plan.nominalV
    if (share >= LOW_SHARE && share <= HIGH_SHARE) return false
    state.boardTroubles.oddVolts = share
    return true
  }
  if (index === plan.supply) return plan.nominalV !== null && value < DEAD_SHARE * plan.nominalV
  if (index !== plan.index['pump-current']) return false
  const usualA = usualCurrent(plan, state)
  if (usualA === null || value < CURRENT_SHARE * usualA) return false
  state.boardTroubles.oddAmps = value / usualA
  return true
}

/** The voltage as it stands to the digit: a load must move it. */
export function noteVolts(state: EngineState, t: Ms, volts: number): void {
  const { boardTroubles: troubles } = state
  if (volts === troubles.sameV) return
  troubles.sameV = volts
  troubles.sameVSince = t
}

/** Since when the voltage has stood still though the pump has come on meanwhile; null: it has not. */
export function stuckVoltsSince(state: EngineState, at: Ms): Ms | null {
  const { run } = state.pump
  const { sameVSince } = state.boardTroubles
  if (run === null || run.end !== null || sameVSince === 0) return null
  return at - run.firstOn > 10 * MINUTE && sameVSince < run.start - 10 * MINUTE ? sameVSince : null
}
