/** A low probe that reads dry while a higher one is wet is fouled, or the higher one bridged: neither is believed then. */
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { WaterState } from './state.js'

/** Contradictions needed before the low probe is not believed, and for how long it is not. */
const CONTRADICTIONS_LEAST = 6
const CONTRADICTIONS_WITHIN_MS = 30 * MINUTE
const DISTRUST_MS = 2 * HOUR

/** A low probe that is dry while the high one is wet. */
export function noteContradiction(water: WaterState, t: Ms): void {
  if (!water.low.seen || !water.high.seen || water.low.wet || !water.high.wet) return
  if (t - Math.min(water.low.lastT, water.high.lastT) > 2 * MINUTE) return
  water.contradictions.push(t)
  if (water.contradictions.length > 40) water.contradictions.shift()
}

/** Since when the low probe contradicts the high one; null: it does not, or too seldom to tell. */
export function contradictingSince(water: WaterState, at: Ms): Ms | null {
  const last = water.contradictions.at(-1)
  if (last === undefined || at - last > DISTRUST_MS) return null
  const recent = water.contradictions.filter((t) => last - t <= CONTRADICTIONS_WITHIN_MS)
  return recent.length >= CONTRADICTIONS_LEAST ? (recent[0] ?? null) : null
}
