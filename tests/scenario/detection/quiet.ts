/**
 * What looks like a fault and is none worth telling, or only in its strongest form: the kinds of the table of faults for
 * which no expectation is written elsewhere. A message of them is a false one.
 */
import { FAULT_KINDS } from '../../../simulators/fault-table.js'
import { MINUTE } from '../../../src/model/time.js'
import { EXPECTATIONS, type Expectation } from './expectations.js'

const QUIET: readonly Expectation[] = [
  {
    kind: 'backlog-shuffled',
    says: 'site-silent',
    from: ['last-word'],
    within: 16 * MINUTE,
    alsoRight: [],
    // Twelve minutes are no silence; what comes afterwards out of order must raise nothing at all.
    nothingOf: ['mild'],
  },
  {
    kind: 'bad-payloads',
    // One in five of the spoilt messages still carries records, without a number: the board talks, its sensors fail.
    says: 'sensor-suspect',
    from: ['fault-began'],
    within: 30 * MINUTE,
    alsoRight: ['board-silent'],
    nothingOf: ['mild', 'middle'],
  },
  { kind: 'contact-chatter', says: null, from: [], within: 0, alsoRight: [] },
  {
    kind: 'level-spikes',
    // One reading in fifty is counted and forgotten; a sensor that jumps each minute or two is one to look at.
    says: 'sensor-suspect',
    from: ['fault-began'],
    within: 90 * MINUTE,
    alsoRight: [],
    nothingOf: ['mild'],
  },
  { kind: 'repeated-deliveries', says: null, from: [], within: 0, alsoRight: [] },
  { kind: 'board-browns-out', says: null, from: [], within: 0, alsoRight: [] },
  { kind: 'current-drift', says: null, from: [], within: 0, alsoRight: [] },
  { kind: 'pipe-drains', says: null, from: [], within: 0, alsoRight: [] },
]

/** Every kind of the table of faults, once. */
export const ALL_EXPECTATIONS: readonly Expectation[] = [
  ...EXPECTATIONS,
  ...QUIET.filter(({ kind }) => !EXPECTATIONS.some((one) => one.kind === kind)),
]

/** Kinds of which nobody has said yet what is to be told. */
export function forgottenKinds(): readonly string[] {
  return FAULT_KINDS.filter((kind) => !ALL_EXPECTATIONS.some((one) => one.kind === kind))
}
