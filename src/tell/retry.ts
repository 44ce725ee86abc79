/** When to try again, and when to stop. */
import type { OutboxRow } from '../model/message.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'

/**
 * The wait before the next attempt: 1, 2, 5, 15, 60 min, then hourly.
 *
 * @param attempts made so far, the one that just failed included
 */
export function retryWaitMs(attempts: number): number {
  const steps = LIMITS.deliveryRetryMs
  return steps[Math.min(Math.max(attempts, 1), steps.length) - 1] ?? steps[steps.length - 1] ?? 0
}

export type NextAttempt =
  | { readonly what: 'retry'; readonly at: Ms }
  | { readonly what: 'give-up'; readonly why: string }

/** What becomes of a row after an attempt that may be repeated. */
export function nextAttempt(
  row: Pick<OutboxRow, 'attempts' | 'due'>,
  now: Ms,
  waitMs: number | undefined,
): NextAttempt {
  const at = now + Math.max(retryWaitMs(row.attempts + 1), waitMs ?? 0)
  if (at - row.due <= LIMITS.deliveryAgeMaxMs) return { what: 'retry', at }
  return { what: 'give-up', why: 'not delivered within 48 h' }
}

/** Too old to be news. Holds too after the program was off for days. */
export function isTooOld(row: Pick<OutboxRow, 'due'>, now: Ms): boolean {
  return now - row.due > LIMITS.deliveryAgeMaxMs
}
