/**
 * The step gate: a jump that no water, battery or air makes is set aside as `too-fast` until it persists.
 * Works in event time, so that the order of arrival changes nothing.
 */
import type { RoleSpec } from '../model/roles.js'
import { slipOf, withoutSlip } from './boards/units.js'
import type { Ms } from '../model/time.js'

/** A real step is believed after this many readings that agree with each other, or after this long. */
const AGREE_COUNT = 5
const AGREE_MS = 10 * 60_000
const AGREE_LEAST = 3

export type ScreenState = {
  lastT: Ms
  lastV: number
  has: boolean
  pendingFirstT: Ms
  pendingT: Ms
  pendingV: number
  pendingCount: number
  /** Refused in all, and when last. */
  refused: number
  refusedAt: Ms
  /** The unit that it has slipped into (boards/units.ts), since when, and the latest value without the slip; −1: none. */
  slip: number
  slipSince: Ms
  slipV: number
}

export function createScreen(): ScreenState {
  return {
    lastT: 0,
    lastV: 0,
    has: false,
    pendingFirstT: 0,
    pendingT: 0,
    pendingV: 0,
    pendingCount: 0,
    refused: 0,
    refusedAt: 0,
    slip: -1,
    slipSince: 0,
    slipV: 0,
  }
}

/** A sensor that was moved or set anew: what it says from now on is believed, in whatever unit it was held back. */
export function rebaseScreen(state: ScreenState): void {
  if (state.slip < 0) return
  state.slip = -1
  state.has = false
  state.pendingCount = 0
}

/** Whether the reading is believed now. */
export function believe(state: ScreenState, spec: RoleSpec, t: Ms, v: number): boolean {
  if (spec.step === undefined) return true
  if (state.slip >= 0) return believeSlipped(state, spec, t, v)
  if (!state.has || within(spec.step, state.lastT, state.lastV, t, v)) {
    // Between slow readings the gate widens until any step fits: what stood outside it before may be a slip still.
    if (state.has && state.pendingCount > 1 && slips(state, spec, v)) return refuse(state, t)
    accept(state, t, v)
    return true
  }
  const agrees = state.pendingCount > 0 && within(spec.step, state.pendingT, state.pendingV, t, v)
  if (!agrees) {
    state.pendingCount = 0
    state.pendingFirstT = t
  }
  state.pendingCount += 1
  state.pendingT = t
  state.pendingV = v
  const longEnough = state.pendingCount >= AGREE_LEAST && t - state.pendingFirstT >= AGREE_MS
  if (state.pendingCount >= AGREE_COUNT || longEnough) {
    if (slips(state, spec, v)) return refuse(state, t)
    accept(state, t, v)
    return true
  }
  return refuse(state, t)
}

/** Whether the readings that wait have slipped into another unit; from then on they are followed in it. */
function slips(state: ScreenState, spec: RoleSpec, v: number): boolean {
  const slip = slipOf(spec, state.lastV, v)
  if (slip < 0) return false
  state.slip = slip
  state.slipSince = state.pendingFirstT
  state.slipV = withoutSlip(spec, slip, v)
  return true
}

/**
 * In another unit the readings go on where they were, only otherwise said: they are kept out until they are said as
 * before. Where they do not go on so, it was no slip, and the gate begins anew.
 */
function believeSlipped(state: ScreenState, spec: RoleSpec, t: Ms, v: number): boolean {
  if (spec.step === undefined) return true
  const value = withoutSlip(spec, state.slip, v)
  // In deep cold both scales say nearly the same: what is nearer counts.
  const asBefore = Math.abs(v - state.slipV) < Math.abs(value - state.slipV)
  if (asBefore && within(spec.step, state.pendingT, state.slipV, t, v)) {
    state.slip = -1
    state.refused = 0
    accept(state, t, v)
    return true
  }
  if (within(spec.step, state.pendingT, state.slipV, t, value)) {
    state.pendingT = t
    state.slipV = value
    return refuse(state, t)
  }
  state.slip = -1
  state.pendingCount = 1
  state.pendingFirstT = t
  state.pendingT = t
  state.pendingV = v
  return refuse(state, t)
}

function refuse(state: ScreenState, t: Ms): false {
  state.refused += 1
  state.refusedAt = t
  return false
}

function accept(state: ScreenState, t: Ms, v: number): void {
  state.has = true
  state.lastT = t
  state.lastV = v
  state.pendingCount = 0
}

function within(step: { step: number; perSecond: number }, t0: Ms, v0: number, t: Ms, v: number): boolean {
  return Math.abs(v - v0) <= step.step + (step.perSecond * (t - t0)) / 1000
}
