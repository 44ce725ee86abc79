/**
 * Alarms by the alarm-management standard ANSI/ISA-18.2 (IEC 62682): states, priorities and words are the
 * standard's; the ids are the contract's (section 5).
 */
import type { Ms } from './time.js'

export const ALARM_IDS = [
  'dry-well',
  'pump-stalled',
  'pump-no-start',
  'no-rise',
  'fill-long',
  'overfill',
  'leak',
  'tank-low',
  'battery-low',
  'battery-sag',
  'battery-cold-charge',
  'battery-not-full',
  'array-dark',
  'freeze-risk',
  'freezing',
  'board-silent',
  'site-silent',
  'sensor-suspect',
  'clock-suspect',
  'yield-falling',
  'energy-rising',
  'house-pump-cycling',
  'stale-water',
  'store-failing',
  'telling-failing',
] as const
export type AlarmId = (typeof ALARM_IDS)[number]

/** Most urgent first. */
export const PRIORITIES = ['critical', 'high', 'medium', 'low'] as const
export type Priority = (typeof PRIORITIES)[number]

/** True when `a` is at least as urgent as `b`. */
export function atLeast(a: Priority, b: Priority): boolean {
  return PRIORITIES.indexOf(a) <= PRIORITIES.indexOf(b)
}

export const ALARM_STATES = [
  'normal',
  'unacknowledged',
  'acknowledged',
  'returned-unacknowledged',
  'latched',
  'shelved',
  'suppressed',
  'out-of-service',
] as const
export type AlarmState = (typeof ALARM_STATES)[number]

/** One number that an alarm rests on, beside its usual. `quantity` chooses the unit people are shown. */
export type Evidence = {
  readonly label: string
  readonly quantity: QuantityKind
  readonly value: number
  readonly usual: number | null
}

export const QUANTITY_KINDS = [
  'length',
  'level',
  'volume',
  'flow',
  'voltage',
  'current',
  'power',
  'energy',
  'energy-per-volume',
  'temperature',
  'pressure',
  'duration',
  'ratio',
  'count',
] as const
export type QuantityKind = (typeof QUANTITY_KINDS)[number]

/** The words of an alarm: whole sentences for a person, in their units and time, as sure as the data are. */
export type AlarmWords = {
  /** At most 60 characters. */
  readonly title: string
  /** What and since when, with the number beside its usual. */
  readonly what: string
  /** Likely causes, the likeliest first. */
  readonly causes: readonly string[]
  readonly action: string
  readonly ifIgnored: string
  /** Where the work can hurt. */
  readonly caution: string | null
  /** How long there is, or null where nothing is known. */
  readonly timeLeft: string | null
}

/** One occurrence of an alarm: from its raise to its clear. */
export type Alarm = {
  /** `${id}:${subject}`, the address of the alarm within its site. */
  readonly key: string
  readonly id: AlarmId
  readonly subject: string
  readonly priority: Priority
  readonly state: AlarmState
  /** When the condition began, event time. */
  readonly since: Ms
  readonly raised: Ms
  readonly cleared: Ms | null
  readonly cause: string
  readonly evidence: readonly Evidence[]
  readonly words: AlarmWords
  readonly acknowledgedBy: string | null
  readonly acknowledgedAt: Ms | null
  readonly shelvedUntil: Ms | null
  readonly shelveReason: string | null
  /** Key of the alarm that explains this one; it is shown beneath that one and not told. */
  readonly explainedBy: string | null
  /** Occurrences in the last day, this one included. */
  readonly raisesInDay: number
}

/** Why the judge says something now. Travels to the outbox, the log and the page. */
export type NoticeReason = 'raised' | 'cleared' | 'worsened' | 'on-and-off' | 'reminder'

export type Notice = {
  readonly at: Ms
  readonly reason: NoticeReason
  readonly alarm: Alarm
}
