/**
 * A control or float that chatters switches the pump on and off within seconds. Samples each 10 s see only some of the
 * switching, as a current that comes and goes; three times in three minutes is more than any sound control does.
 */
import { MINUTE, type Ms } from '../../model/time.js'
import type { EngineState } from '../state.js'

/** Three on and off within this time [alarm practice counts three in a minute as chatter; a sample sees every third]. */
const WITHIN_MS = 3 * MINUTE
const FLIPS = 6
/** A slower one: a quarter of a minute on, half a minute off. */
const SLOW_WITHIN_MS = 10 * MINUTE
const SLOW_FLIPS = 12
const KEPT = 32

/** To be called after each current sample: O(1). */
export function noteSwitching(state: EngineState, t: Ms): void {
  const { chatter } = state.episode
  const { run } = state.pump
  const on = run !== null && run.end === null && run.offAt === null
  if (run !== null && run.firstOn === t) chatter.ofRun = 0
  if (on === chatter.on) return
  chatter.on = on
  chatter.ofRun += 1
  const { flips } = chatter
  flips.push(t)
  if (flips.length > KEPT) flips.shift()
  if (chatter.since !== null || protectorTries(state, t)) return
  if (reaches(flips, t, WITHIN_MS, FLIPS)) chatter.since = flips[flips.length - FLIPS] ?? t
  else if (reaches(flips, t, SLOW_WITHIN_MS, SLOW_FLIPS)) chatter.since = flips[flips.length - SLOW_FLIPS] ?? t
}

function reaches(flips: readonly Ms[], t: Ms, withinMs: number, count: number): boolean {
  const first = flips[flips.length - count]
  return first !== undefined && t - first <= withinMs
}

/** A protector that trips on a locked rotor also switches to and fro; its heavy current tells another story. */
function protectorTries(state: EngineState, t: Ms): boolean {
  const { heavyTries } = state.pump
  const second = heavyTries[heavyTries.length - 2]
  return second !== undefined && t - second <= SLOW_WITHIN_MS
}

/** While it chatters, one run is not many: a stop counts only when it lasts. */
export function chatters(state: EngineState): boolean {
  return state.episode.chatter.since !== null
}

export const CHATTER_STOP_MS = WITHIN_MS

/** Whether the run under way, or just ended, was broken so often that its figures are unfit for trends. */
export function wasBroken(state: EngineState): boolean {
  return state.episode.chatter.ofRun > FLIPS
}

/** Ends the spell when the switching has ceased. At looks. */
export function lookAtChatter(state: EngineState, at: Ms): void {
  const { chatter } = state.episode
  const last = chatter.flips.at(-1)
  if (chatter.since !== null && (last === undefined || at - last > WITHIN_MS)) chatter.since = null
}
