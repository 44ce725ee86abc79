/**
 * On-delay, off-delay and deadband, with the meaning of OPC UA Part 9, B.1.5: a value must be past its limit for the
 * whole on-delay, and back within limit and deadband for the whole off-delay.
 */
import { type Ms, SECOND } from '../model/time.js'

/** `unknown`: the input is missing or stale; it neither raises nor clears. */
export type Holds = true | false | 'unknown'

/** Plain state of the two delays of one condition. */
export type DelayState = {
  /** The delayed condition. */
  active: boolean
  /** Since when it has held without a break; null: it does not. */
  holdingSince: Ms | null
  /** Since when it has been gone without a break while still active; null: it is not gone. */
  goneSince: Ms | null
}

export type DelaySettings = { readonly onDelayS: number; readonly offDelayS: number }

/**
 * Takes one look at a condition and moves the delays on.
 *
 * @param holds what this look says; `unknown` breaks both waits, since neither was seen for its whole length
 * @param since when the condition began by the look's own numbers, or null: the first look at which it held
 * @returns what changed, or null
 */
export function advance(
  delay: DelayState,
  holds: Holds,
  since: Ms | null,
  at: Ms,
  settings: DelaySettings,
): 'became-active' | 'became-normal' | null {
  if (holds === 'unknown') {
    delay.goneSince = null
    if (!delay.active) delay.holdingSince = null
    return null
  }
  if (holds) {
    delay.goneSince = null
    delay.holdingSince = start(delay, since === null ? null : Math.min(since, at), at)
    if (delay.active || at - delay.holdingSince < settings.onDelayS * SECOND) return null
    delay.active = true
    return 'became-active'
  }
  if (!delay.active) {
    delay.holdingSince = null
    return null
  }
  delay.goneSince ??= at
  if (at - delay.goneSince < settings.offDelayS * SECOND) return null
  delay.active = false
  delay.holdingSince = null
  return 'became-normal'
}

/** While waiting, the start that the look names counts, since it may restart; once active, the first start stays. */
function start(delay: DelayState, said: Ms | null, at: Ms): Ms {
  if (said === null) return delay.holdingSince ?? at
  return delay.active && delay.holdingSince !== null ? Math.min(delay.holdingSince, said) : said
}

/** Whether a value that alarms when high is past its limit, with a deadband to leave again once active. */
export function above(value: number, limit: number, deadband: number, active: boolean): boolean {
  return active ? value > limit - deadband : value > limit
}

/** The same for a value that alarms when low. */
export function below(value: number, limit: number, deadband: number, active: boolean): boolean {
  return active ? value < limit + deadband : value < limit
}
