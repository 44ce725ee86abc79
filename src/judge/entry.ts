/** The plain state of one alarm of one subject, and the row that people see of it. */
import type { Alarm, AlarmId, AlarmState, AlarmWords, Evidence, Priority } from '../model/alarm.js'
import type { Ms } from '../model/time.js'
import type { DelayState } from './delay.js'
import type { OutageState } from './outages.js'
import { newPresence, type PresenceState } from './presence.js'

/** Why an alarm moved last; the same word in the log, on the page and in tests. */
export type Because =
  | 'limit-crossed'
  | 'back-to-normal'
  | 'acknowledged'
  | 'worsened'
  | 'cause-surer'
  | 'shelved'
  | 'shelf-over'
  | 'unshelved'
  | 'winterized'
  | 'maintenance'
  | 'learning'
  | 'suppression-over'
  | 'removed-from-service'
  | 'returned-to-service'
  | 'explained'
  | 'cause-gone'
  | 'expired'
  | 'not-judged-any-more'

/** One occurrence under way or just over: what the alarm row is made of. */
export type Occurrence = {
  since: Ms
  raised: Ms
  cleared: Ms | null
  priority: Priority
  cause: string
  evidence: readonly Evidence[]
  words: AlarmWords
  acknowledgedBy: string | null
  acknowledgedAt: Ms | null
  /** When its words were last made anew. */
  refined?: Ms
}

const STATE_VERSION = 2

/** The occurrence with which the story began that people were told and whose all-clear is still to come. */
export type Told = { readonly since: Ms; readonly raised: Ms }

export type Entry = {
  readonly key: string
  readonly id: AlarmId
  readonly subject: string
  state: AlarmState
  because: Because
  readonly delay: DelayState
  /** Null until it is first raised. Kept after the clear, for the all-clear and the list. */
  occurrence: Occurrence | null
  explainedBy: string | null
  /** It latches, and nobody has acknowledged this occurrence: put aside and taken up again, it is latched still. */
  latch: boolean
  shelvedUntil: Ms | null
  shelveReason: string | null
  told: Told | null
  /** Messages about it in the last day, ascending. */
  notices: Ms[]
  /** Raises in the last day, ascending, bounded. */
  raises: Ms[]
}

export type JudgeState = {
  /** Shape of what is stored; another one is not read. */
  readonly version: typeof STATE_VERSION
  /** Event time of the last look that was judged. */
  at: Ms | null
  entries: Entry[]
  readonly silence: OutageState
  presence: PresenceState
}

export function initialState(): JudgeState {
  return {
    version: STATE_VERSION,
    at: null,
    entries: [],
    silence: { silentMs: 0, outages: [] },
    presence: newPresence(),
  }
}

export function restoreState(text: string | null): JudgeState {
  if (text === null) return initialState()
  try {
    const value: unknown = JSON.parse(text)
    return isState(value) ? withLatches(value) : initialState()
  } catch {
    return initialState()
  }
}

/** A text from before latches were kept says of none but the latched that they are to be seen; nor were comings and goings kept. */
function withLatches(state: JudgeState): JudgeState {
  for (const entry of state.entries) entry.latch ??= entry.state === 'latched'
  state.presence ??= newPresence()
  return state
}

/** Our own text, written by this version: its frame is checked, its entries are what was written. */
function isState(value: unknown): value is JudgeState {
  if (typeof value !== 'object' || value === null) return false
  if (!('version' in value && 'at' in value && 'entries' in value && 'silence' in value)) return false
  return (
    value.version === STATE_VERSION && (value.at === null || Number.isFinite(value.at)) && Array.isArray(value.entries)
  )
}

export function keyOf(id: AlarmId, subject: string): string {
  return `${id}:${subject}`
}

export function newEntry(id: AlarmId, subject: string): Entry {
  return {
    key: keyOf(id, subject),
    id,
    subject,
    state: 'normal',
    because: 'back-to-normal',
    delay: { active: false, holdingSince: null, goneSince: null },
    occurrence: null,
    explainedBy: null,
    latch: false,
    shelvedUntil: null,
    shelveReason: null,
    told: null,
    notices: [],
    raises: [],
  }
}

/** Raised and not yet cleared: the occurrence stands. */
export function stands(entry: Entry): boolean {
  return entry.occurrence !== null && entry.occurrence.cleared === null
}

/** The row for the store, the page and messages; null for an alarm that was never raised. */
export function rowOf(entry: Entry): Alarm | null {
  const { occurrence } = entry
  if (occurrence === null) return null
  return {
    key: entry.key,
    id: entry.id,
    subject: entry.subject,
    priority: occurrence.priority,
    state: entry.state,
    since: occurrence.since,
    raised: occurrence.raised,
    cleared: occurrence.cleared,
    cause: occurrence.cause,
    evidence: occurrence.evidence,
    words: occurrence.words,
    acknowledgedBy: occurrence.acknowledgedBy,
    acknowledgedAt: occurrence.acknowledgedAt,
    shelvedUntil: entry.shelvedUntil,
    shelveReason: entry.shelveReason,
    explainedBy: entry.explainedBy,
    raisesInDay: Math.max(1, entry.raises.length),
  }
}
