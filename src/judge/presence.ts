/** Since when nobody is said to be at the place, and when it was opened after winter: what looks alone do not show. */
import type { Modes } from '../model/modes.js'
import type { Ms } from '../model/time.js'

export type PresenceState = {
  awaySince: Ms | null
  winterized: boolean
  /** When it was last opened; null: never seen. */
  openedAt: Ms | null
}

export function newPresence(): PresenceState {
  return { awaySince: null, winterized: false, openedAt: null }
}

/** Takes the modes of one look. Returns true when something changed. */
export function followPresence(state: PresenceState, modes: Modes, at: Ms): boolean {
  const away = modes.away ? (state.awaySince ?? at) : null
  const opened = state.winterized && !modes.winterized
  if (away === state.awaySince && modes.winterized === state.winterized) return false
  state.awaySince = away
  state.winterized = modes.winterized
  if (opened) state.openedAt = at
  return true
}
