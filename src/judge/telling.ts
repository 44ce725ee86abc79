/**
 * Which moves of an alarm become a message: one at the raise, one all-clear, and for an alarm that comes and goes one
 * that says so and then silence until it is over. No more than LIMITS.noticesInDayMax in a day.
 */
import type { Notice, NoticeReason } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import { DAY, type Ms } from '../model/time.js'
import { type Entry, rowOf, stands } from './entry.js'

/** States in which nothing is told of an alarm that stands. */
function isQuiet(entry: Entry): boolean {
  return entry.state === 'shelved' || entry.state === 'suppressed' || entry.state === 'out-of-service'
}

/** What happens in a day counts; older entries are dropped. */
export function forgetOld(entry: Entry, at: Ms): void {
  while (entry.notices.length > 0 && at - (entry.notices[0] ?? at) >= DAY) entry.notices.shift()
  while (entry.raises.length > 0 && at - (entry.raises[0] ?? at) >= DAY) entry.raises.shift()
}

/** It has come and gone so often, or been told so often, that the next message says "on and off". */
function comesAndGoes(entry: Entry): boolean {
  return entry.raises.length >= 3 || (entry.raises.length >= 2 && entry.notices.length >= 2)
}

/**
 * The message that a standing alarm is due, or null. Call it at each look: what was held back is told later, but
 * never in a look (`at`) long past.
 */
export function noticeOfRaise(entry: Entry, at: Ms, now: Ms): NoticeReason | null {
  if (now - at > LIMITS.staleAlarmMs) return null
  if (!stands(entry) || isQuiet(entry) || entry.told !== null || entry.explainedBy !== null) return null
  if (entry.notices.length >= LIMITS.noticesInDayMax) return null
  return comesAndGoes(entry) ? 'on-and-off' : 'raised'
}

/** Whether the all-clear is due. `consequencesStand`: alarms that this one explains still stand. */
export function isAllClearDue(entry: Entry, consequencesStand: boolean, at: Ms): boolean {
  const cleared = entry.occurrence?.cleared ?? null
  if (entry.told === null || cleared === null) return false
  const normalMs = at - cleared
  if (normalMs < (comesAndGoes(entry) ? LIMITS.onAndOffNormalMs : LIMITS.settleMs)) return false
  if (entry.notices.length >= LIMITS.noticesInDayMax) return false
  return !consequencesStand || normalMs >= LIMITS.groupHoldMs
}

/**
 * Makes the message and notes that it was made. An all-clear speaks of the whole story: it carries the beginning and the
 * raise that were told first, also where the alarm has come and gone since.
 */
export function note(entry: Entry, reason: NoticeReason, at: Ms): Notice | null {
  const row = rowOf(entry)
  if (row === null) return null
  entry.notices.push(at)
  if (reason === 'cleared') {
    const { since, raised } = entry.told ?? row
    entry.told = null
    return { at, reason, alarm: { ...row, since, raised } }
  }
  entry.told ??= { since: row.since, raised: row.raised }
  return { at, reason, alarm: row }
}
