import { describe, expect, it } from 'vitest'
import type { AlarmState } from '../../src/model/alarm.js'
import { above, advance, below, type DelayState } from '../../src/judge/delay.js'
import { ALARM_EVENTS, type AlarmEvent, moved, TRANSITIONS } from '../../src/judge/machine.js'

const SETTINGS = { onDelayS: 15, offDelayS: 30 }
const LIMIT = 10
const DEADBAND = 1
const STEP_S = 5

/** A value each 5 s from t = 0; returns the seconds at which the delayed condition changed. */
function follow(values: readonly number[]): { active: number[]; normal: number[]; state: DelayState } {
  const state: DelayState = { active: false, holdingSince: null, goneSince: null }
  const seen = { active: [] as number[], normal: [] as number[], state }
  values.forEach((value, i) => {
    const at = i * STEP_S * 1_000
    const change = advance(state, above(value, LIMIT, DEADBAND, state.active), null, at, SETTINGS)
    if (change === 'became-active') seen.active.push(i * STEP_S)
    if (change === 'became-normal') seen.normal.push(i * STEP_S)
  })
  return seen
}

const times = (value: number, seconds: number) => Array<number>(seconds / STEP_S).fill(value)

/**
 * OPC UA Part 9 (Alarms & Conditions), B.1.5 and 5.8.2: the meaning of OnDelay, OffDelay and AlarmDeadband. The
 * section gives the rules in words; the series of values is reckoned from them: limit 10, deadband 1, on-delay 15 s,
 * off-delay 30 s, a value each 5 s.
 */
describe('on-delay, off-delay and deadband as in OPC UA Part 9, B.1.5', () => {
  it('a value over the limit for less than the on-delay, as a motor inrush, never becomes active', () => {
    expect(follow([...times(12, 10), ...times(5, 60)])).toMatchObject({ active: [], normal: [] })
    expect(follow([...times(12, 15), ...times(5, 60)]).active).toEqual([])
  })

  it('a value over the limit for the whole on-delay becomes active at its end', () => {
    expect(follow(times(12, 60)).active).toEqual([15])
  })

  it('a value back within the deadband stays active', () => {
    expect(follow([...times(12, 20), ...times(9.5, 300)])).toMatchObject({ active: [15], normal: [] })
  })

  it('a return past the deadband for less than the off-delay stays active', () => {
    expect(follow([...times(12, 20), ...times(8.9, 25), ...times(9.2, 60)]).normal).toEqual([])
  })

  it('a return past the deadband for the whole off-delay becomes normal', () => {
    expect(follow([...times(12, 20), ...times(8.9, 60)]).normal).toEqual([20 + 30])
  })

  it('mirrors for a low limit: the return must pass limit plus deadband', () => {
    expect(below(9.9, LIMIT, DEADBAND, false)).toBe(true)
    expect(below(10, LIMIT, DEADBAND, false)).toBe(false)
    expect(below(10.9, LIMIT, DEADBAND, true)).toBe(true)
    expect(below(11, LIMIT, DEADBAND, true)).toBe(false)
  })
})

/** OPC UA Part 9, 5.8.22.1, worked numbers: setpoint 10, limits +2 and -1; then setpoint 11. */
it('deviation limits move with their setpoint as in OPC UA Part 9, 5.8.22.1', () => {
  const verdict = (value: number, setpoint: number) => [
    below(value, setpoint - 1, 0, false),
    above(value, setpoint + 2, 0, false),
  ]
  expect(verdict(8.9, 10)).toEqual([true, false])
  expect(verdict(9, 10)).toEqual([false, false])
  expect(verdict(12, 10)).toEqual([false, false])
  expect(verdict(12.1, 10)).toEqual([false, true])
  expect(verdict(9.9, 11)).toEqual([true, false])
  expect(verdict(12.1, 11)).toEqual([false, false])
  expect(verdict(13.1, 11)).toEqual([false, true])
})

/**
 * ANSI/ISA-18.2 alarm states A normal, B unacknowledged, C acknowledged, D returned unacknowledged, E shelved,
 * F suppressed by design, G out of service; the moves as an independent open implementation of the standard lists
 * them (alerta/alerta, alerta/models/alarms/isa_18_2.py). Latched alarms (clause on latching) are from memory.
 */
const A: AlarmState = 'normal'
const B: AlarmState = 'unacknowledged'
const C: AlarmState = 'acknowledged'
const D: AlarmState = 'returned-unacknowledged'
const MOVES: readonly (readonly [AlarmState, AlarmEvent, AlarmState])[] = [
  [A, 'alarm', B],
  [B, 'acknowledge', C],
  [C, 'worsen', B],
  [C, 'clear', A],
  [B, 'clear', D],
  [D, 'acknowledge', A],
  [D, 'alarm', B],
  ...[A, B, C, D, 'suppressed' as const].map((from) => [from, 'shelve', 'shelved'] as const),
  ['shelved', 'restore-active', B],
  ['shelved', 'restore-normal', A],
  ['suppressed', 'restore-active', B],
  ['suppressed', 'restore-normal', A],
  ['out-of-service', 'restore-active', B],
  ['out-of-service', 'restore-normal', A],
  [B, 'clear-latching', 'latched'],
  ['latched', 'acknowledge', A],
  ['latched', 'alarm', B],
]

describe('the moves between the states of ANSI/ISA-18.2', () => {
  it.each(MOVES)('%s, on %s, becomes %s', (from, event, to) => {
    expect(moved(from, event)).toBe(to)
  })

  it('what the standard does not list does not move an alarm', () => {
    expect(moved(A, 'acknowledge')).toBe(A)
    expect(moved(C, 'acknowledge')).toBe(C)
    expect(moved(B, 'worsen')).toBe(B)
    expect(moved('shelved', 'alarm')).toBe('shelved')
    expect(moved('suppressed', 'alarm')).toBe('suppressed')
    expect(moved('out-of-service', 'shelve')).toBe('out-of-service')
    expect(moved('shelved', 'suppress')).toBe('shelved')
  })

  it('every state but normal can be left, and every state can be reached', () => {
    const reached = new Set<AlarmState>([A])
    for (let round = 0; round < 8; round += 1) {
      for (const from of [...reached]) for (const event of ALARM_EVENTS) reached.add(moved(from, event))
    }
    expect([...reached].sort()).toEqual((Object.keys(TRANSITIONS) as AlarmState[]).sort())
    for (const from of reached) expect(Object.keys(TRANSITIONS[from]).length).toBeGreaterThan(0)
  })
})
