/**
 * The states of one alarm and what moves it between them: ANSI/ISA-18.2 (IEC 62682), clause on alarm states, as a
 * table. What is not in the table does not move the alarm, so acknowledging twice is harmless.
 */
import type { AlarmState } from '../model/alarm.js'

export const ALARM_EVENTS = [
  /** The condition holds, delays passed. */
  'alarm',
  /** It holds no more, delays passed. */
  'clear',
  /** The same for an alarm that stays until a person has seen it. */
  'clear-latching',
  'acknowledge',
  /** The priority rose while the condition holds. */
  'worsen',
  'shelve',
  'suppress',
  'remove-from-service',
  /** Shelf time over, suppression ended or back in service; the condition holds, or does not. */
  'restore-active',
  'restore-normal',
  /** The same for one that is over, but that nobody has seen, and that stays until somebody has. */
  'restore-latched',
  /** Nobody acknowledged a return for so long that it leaves the list. */
  'expire',
] as const
export type AlarmEvent = (typeof ALARM_EVENTS)[number]

type Row = { readonly [E in AlarmEvent]?: AlarmState }

const away: Row = { shelve: 'shelved', suppress: 'suppressed', 'remove-from-service': 'out-of-service' }
const restored: Row = {
  'restore-active': 'unacknowledged',
  'restore-normal': 'normal',
  'restore-latched': 'latched',
}

export const TRANSITIONS: Readonly<Record<AlarmState, Row>> = {
  normal: { ...away, alarm: 'unacknowledged' },
  unacknowledged: {
    ...away,
    acknowledge: 'acknowledged',
    clear: 'returned-unacknowledged',
    'clear-latching': 'latched',
  },
  acknowledged: { ...away, worsen: 'unacknowledged', clear: 'normal', 'clear-latching': 'normal' },
  'returned-unacknowledged': { ...away, acknowledge: 'normal', alarm: 'unacknowledged', expire: 'normal' },
  latched: { ...away, acknowledge: 'normal', alarm: 'unacknowledged' },
  shelved: { ...restored, 'remove-from-service': 'out-of-service' },
  suppressed: { ...restored, shelve: 'shelved', 'remove-from-service': 'out-of-service' },
  'out-of-service': restored,
}

/** Where an event takes an alarm; the same state where the standard knows no such move. */
export function moved(state: AlarmState, event: AlarmEvent): AlarmState {
  return TRANSITIONS[state][event] ?? state
}
