/** What people do to alarms: acknowledge, shelve, take out of service. Every act is harmless twice. */
import type { Alarm } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { type Because, type Entry, type JudgeState, rowOf, stands } from './entry.js'
import { restore } from './life.js'
import { moved } from './machine.js'

/** A row that is to be stored, and why it moved. */
export type Change = { readonly alarm: Alarm; readonly because: Because }

function find(state: JudgeState, key: string): Entry | null {
  const entry = state.entries.find((one) => one.key === key)
  return entry === undefined || entry.occurrence === null || entry.state === 'normal' ? null : entry
}

function changeOf(entry: Entry): Change | null {
  const alarm = rowOf(entry)
  return alarm === null ? null : { alarm, because: entry.because }
}

/** @returns the row as it is now, or null when there is nothing to acknowledge under this key */
export function acknowledge(state: JudgeState, key: string, by: string, at: Ms): Change | null {
  const entry = find(state, key)
  if (entry === null || entry.occurrence === null) return null
  const to = moved(entry.state, 'acknowledge')
  if (to !== entry.state) {
    entry.state = to
    entry.because = 'acknowledged'
    entry.latch = false
    entry.occurrence.acknowledgedBy = by
    entry.occurrence.acknowledgedAt = at
  }
  return changeOf(entry)
}

/** Puts an alarm aside until an instant, no further ahead than LIMITS.shelveMaxMs. Null: no such alarm, or no time. */
export function shelve(state: JudgeState, key: string, until: Ms, reason: string, by: string, at: Ms): Change | null {
  const entry = find(state, key)
  if (entry === null || until <= at || entry.state === 'out-of-service') return null
  entry.state = moved(entry.state, 'shelve')
  entry.because = 'shelved'
  entry.shelvedUntil = Math.min(until, at + LIMITS.shelveMaxMs)
  entry.shelveReason = reason === '' ? by : `${reason} (${by})`
  return changeOf(entry)
}

export function unshelve(state: JudgeState, key: string): Change | null {
  const entry = find(state, key)
  if (entry === null || entry.state !== 'shelved') return null
  restore(entry, 'unshelved', { changed: false, worsened: false })
  return changeOf(entry)
}

/** Takes an alarm out of service until a person returns it. */
export function removeFromService(state: JudgeState, key: string, reason: string, by: string): Change | null {
  const entry = find(state, key)
  if (entry === null) return null
  entry.state = moved(entry.state, 'remove-from-service')
  entry.because = 'removed-from-service'
  entry.shelvedUntil = null
  entry.shelveReason = reason === '' ? by : `${reason} (${by})`
  return changeOf(entry)
}

export function returnToService(state: JudgeState, key: string): Change | null {
  const entry = find(state, key)
  if (entry === null || entry.state !== 'out-of-service') return null
  restore(entry, 'returned-to-service', { changed: false, worsened: false })
  return changeOf(entry)
}

/** Whether an entry belongs in the list that people see. */
export function isListed(entry: Entry): boolean {
  return entry.occurrence !== null && (entry.state !== 'normal' || stands(entry))
}
