/**
 * How long this site is silent now and then. Learned here, as it is lived: a backlog that boards flush after an outage
 * fills the gap in the data, so that afterwards nothing shows that anybody was ever unheard.
 */
import type { DaemonFacts } from '../model/daemon-facts.js'
import type { Facts } from '../model/facts.js'
import { LIMITS } from '../model/limits.js'
import { DAY, MINUTE, type Ms } from '../model/time.js'

/** An outage that healed itself. */
export type Outage = { readonly healed: Ms; readonly lastedMs: Ms }

export type OutageState = {
  /** How long nothing had been heard at the last look. */
  silentMs: Ms
  /** Of the last 30 days, each shorter than the one before it: the longest is the first. */
  outages: Outage[]
}

const REMEMBERED_MS = 30 * DAY
/** Shorter gaps are the boards' own rhythm. */
const LEAST_MS = 2 * MINUTE

/** Since when nothing has been heard, for all that we can know; null: nothing was ever heard. */
export function silentSince(facts: Facts, daemon: DaemonFacts): Ms | null {
  if (facts.lastHeard === null) return null
  return daemon.listeningSince === null ? facts.lastHeard : Math.max(facts.lastHeard, daemon.listeningSince)
}

/** Takes one look. Returns true when an outage was learned. */
export function followSilence(state: OutageState, facts: Facts, daemon: DaemonFacts): boolean {
  const from = silentSince(facts, daemon)
  const silentMs = from === null ? 0 : Math.max(0, facts.at - from)
  const lastedMs = state.silentMs
  state.silentMs = silentMs
  while (state.outages.length > 0 && facts.at - (state.outages[0]?.healed ?? facts.at) > REMEMBERED_MS) {
    state.outages.shift()
  }
  if (silentMs >= lastedMs || lastedMs < LEAST_MS) return false
  while (state.outages.length > 0 && (state.outages.at(-1)?.lastedMs ?? 0) <= lastedMs) state.outages.pop()
  if (state.outages.length >= LIMITS.outagesKeptMax) return false
  state.outages.push({ healed: facts.at, lastedMs })
  return true
}

/** The longest outage of the last 30 days that healed itself: lived through here, or seen in the data. */
export function longestOutageMs(state: OutageState, facts: Facts): Ms {
  return Math.max(facts.longestOutageMs, state.outages[0]?.lastedMs ?? 0)
}
