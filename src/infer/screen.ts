/**
 * The step gate: a jump that no water, battery or air makes is set aside as `too-fast` until it persists.
 * Works in event time, so that the order of arrival changes nothing.
 */
import type { RoleSpec } from '../model/roles.js'
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
  }
}

/** Whether the reading is believed now. */
export function believe(state: ScreenState, spec: RoleSpec, t: Ms, v: number): boolean {
  if (spec.step === undefined) return true
  if (!state.has || within(spec.step, state.lastT, state.lastV, t, v)) {
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
    accept(state, t, v)
    return true
  }
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
