/**
 * When a record was measured: its own stamp where that can be believed, the time of receipt where the board's clock
 * was plainly never set, and a refusal where the stamp is sensible in itself but wrong.
 */
import { LIMITS } from '../model/limits.js'
import { DAY, type Ms } from '../model/time.js'
import { RELATIVE_BELOW_S } from './senml.js'

/** Stamps before this cannot be true, as no such board was built: 2020-01-01T00:00:00Z, in seconds. */
const NEVER_SET_BEFORE_S = 1_577_836_800

/**
 * Where clocks stand that were never set, or ran over, in seconds since 1970 (common practice): an empty SNTP answer
 * is 2036-02-07T06:28:16Z, a signed 32-bit clock ends at 2038-01-19, an unsigned one at 2106-02-07.
 */
const OVERFLOWS_S = [2_085_978_496, 2_147_483_647, 4_294_967_295] as const
/** A time zone before such a stamp, and a year and more of counting after it, are still that stamp. */
const BEFORE_OVERFLOW_S = DAY / 1000
const AFTER_OVERFLOW_S = (400 * DAY) / 1000

/** Which clock a stamp came from that was never set; each keeps its own spacing. */
export type Unset = 'none' | 'uptime' | 'early' | 0 | 1 | 2

/** A relative time may lie ahead of the receipt by what a pack takes to be made and sent. */
const AHEAD_OF_NOW_S = 2

/** A usable time, a refusal, or a stamp of a clock that was never set. */
export type Timing =
  | { readonly t: Ms }
  | { readonly refuse: 'future' | 'too-old' }
  | { readonly unset: Unset; readonly stampS: number }

const FUTURE: Timing = { refuse: 'future' }
const TOO_OLD: Timing = { refuse: 'too-old' }

/** The measuring time in ms when a stamp can be used as it stands, else NaN: the fast way for the ordinary record. */
export function plainTime(timeS: number, at: Ms): Ms {
  const relative = timeS < RELATIVE_BELOW_S
  // Seconds since its start are no time ahead of now, not even in its first minutes.
  if (relative && timeS > AHEAD_OF_NOW_S) return Number.NaN
  const t = Math.round(relative ? at + timeS * 1000 : timeS * 1000)
  return t - at <= LIMITS.aheadMaxMs && at - t <= LIMITS.ageMaxMs ? t : Number.NaN
}

/**
 * Judges the time of a record.
 *
 * @param timeS base time and time together, in seconds (RFC 8428 section 4.5.3); NaN: the board gave none it could write
 * @param at time of receipt
 */
export function timing(timeS: number, at: Ms): Timing {
  const t = plainTime(timeS, at)
  if (!Number.isNaN(t)) return { t }
  if (!Number.isFinite(timeS)) return { unset: 'none', stampS: 0 }
  if (timeS < RELATIVE_BELOW_S) {
    // Ahead of now: no sensor measures the future, so this is seconds since the board's start.
    return timeS > 0 ? { unset: 'uptime', stampS: timeS } : TOO_OLD
  }
  if (timeS < NEVER_SET_BEFORE_S) return { unset: 'early', stampS: timeS }
  for (const [index, overflow] of OVERFLOWS_S.entries()) {
    if (timeS >= overflow - BEFORE_OVERFLOW_S && timeS <= overflow + AFTER_OVERFLOW_S) {
      return { unset: index === 0 ? 0 : index === 1 ? 1 : 2, stampS: timeS }
    }
  }
  return timeS * 1000 > at ? FUTURE : TOO_OLD
}

/**
 * The newest stamp of each unset clock in one pack. That stamp is taken as the moment of receipt, and the others
 * keep their distance from it, so a short backlog from a board without a clock is not folded into one instant.
 */
export class UnsetClocks {
  readonly #newest = new Map<Unset, number>()

  note(unset: Unset, stampS: number): void {
    const newest = this.#newest.get(unset)
    if (newest === undefined || stampS > newest) this.#newest.set(unset, stampS)
  }

  /** Receipt less the distance from the newest stamp; null where that is older than anything is kept. */
  place(unset: Unset, stampS: number, at: Ms): Ms | null {
    const t = at - Math.round(((this.#newest.get(unset) ?? stampS) - stampS) * 1000)
    return at - t <= LIMITS.ageMaxMs ? t : null
  }
}
