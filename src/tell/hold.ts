/**
 * When a message may go out. Quiet hours hold all but critical alarms; an all-clear is never worth waking anyone for;
 * what is of low priority waits for the morning digest of those who asked for one.
 */
import type { Priority } from '../model/alarm.js'
import type { MessageKind, OutboxRow } from '../model/message.js'
import type { PersonSettings, SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { localMinute, nextDaily, nextLocalMinute } from './local-time.js'

export type QuietHours = readonly [number, number]

/** Whether an instant lies in [from, to) of the local wall clock; equal ends mean no quiet hours at all. */
export function inQuiet(at: Ms, quiet: QuietHours | null, timezone: string): boolean {
  if (quiet === null) return false
  const [from, to] = quiet
  const minute = localMinute(at, timezone)
  if (from <= to) return minute >= from && minute < to
  return minute >= from || minute < to
}

/** The first instant after `at` that is no longer quiet. */
function quietEnd(at: Ms, quiet: QuietHours, timezone: string): Ms {
  return nextLocalMinute(at, quiet[1], timezone)
}

export type HoldRequest = { readonly priority: Priority; readonly kind: MessageKind; readonly now: Ms }

/** The instant a message to this person is due: now, or the end of what holds it. */
export function dueAt(person: PersonSettings, site: SiteSettings, { priority, kind, now }: HoldRequest): Ms {
  const { timezone, tell } = site
  let due = now
  if (priority === 'low' && tell.digest !== null && tell.digest.to.includes(person.name)) {
    due = nextDaily(now, tell.digest.atMinute, timezone)
  }
  const passes = priority === 'critical' && kind !== 'all-clear'
  if (!passes && person.quiet !== null && inQuiet(due, person.quiet, timezone)) {
    due = quietEnd(due, person.quiet, timezone)
  }
  return due
}

/**
 * Whether a row was held, told by its due time lying exactly on the person's end of quiet hours or digest time. Read
 * back from the row instead of kept beside it, so that it is the same after a restart.
 */
export function wasHeld(row: Pick<OutboxRow, 'due' | 'person'>, site: SiteSettings): boolean {
  const person = site.tell.people.find(({ name }) => name === row.person)
  if (person === undefined) return false
  const before = row.due - 1
  const { timezone, tell } = site
  if (person.quiet !== null && inQuiet(before, person.quiet, timezone)) {
    if (quietEnd(before, person.quiet, timezone) === row.due) return true
  }
  if (tell.digest === null || !tell.digest.to.includes(person.name)) return false
  return nextDaily(before, tell.digest.atMinute, timezone) === row.due
}
