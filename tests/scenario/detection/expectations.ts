/** What ought to be said of each fault, from when it counts, and what else may be said without being wrong. */
import type { FaultKind } from '../../../simulators/fault-table.js'
import type { Severity } from '../../../simulators/fault.js'
import type { MarkId } from '../../../simulators/truth.js'
import type { AlarmId } from '../../../src/model/alarm.js'
import { HOUR, MINUTE, type Ms } from '../../../src/model/time.js'

export type Expectation = {
  readonly kind: FaultKind
  readonly says: AlarmId
  /** The moment that the promise counts from; 'fault-began' where the fault itself is the moment. */
  readonly from: readonly (MarkId | 'last-word')[]
  readonly within: Ms
  /** Also no wrong diagnosis: consequences, and what looks the same from outside (docs/detection.md). */
  readonly alsoRight: readonly AlarmId[]
  /** What is said in place of `says` by severities that sensors at 10 s cannot tell from it. */
  readonly instead?: Partial<Record<Severity, AlarmId>>
  /** The month (0–11) in which the run begins; May unless given. */
  readonly month?: number
}

/** Told-within times are the contract's (section 5). */
export const EXPECTATIONS: readonly Expectation[] = [
  {
    kind: 'dry-well',
    says: 'dry-well',
    from: ['water-stopped', 'no-water'],
    within: 5 * MINUTE,
    alsoRight: ['tank-low'],
  },
  {
    kind: 'lost-prime',
    says: 'dry-well',
    from: ['no-water', 'water-stopped'],
    within: 5 * MINUTE,
    alsoRight: ['tank-low'],
  },
  {
    kind: 'locked-rotor',
    says: 'pump-stalled',
    from: ['rotor-locked'],
    within: MINUTE,
    alsoRight: ['pump-no-start', 'tank-low', 'battery-low'],
    // The fuse blows after 4 s, between two samples: from outside nothing but a pump that does not start.
    instead: { strong: 'pump-no-start' },
  },
  {
    kind: 'no-start',
    says: 'pump-no-start',
    from: ['called'],
    within: 15 * MINUTE,
    alsoRight: ['tank-low', 'fill-long'],
  },
  {
    kind: 'no-rise',
    says: 'no-rise',
    from: ['no-water', 'water-stopped'],
    within: 10 * MINUTE,
    alsoRight: ['fill-long', 'tank-low', 'battery-low'],
  },
  { kind: 'stuck-on', says: 'overfill', from: ['past-high'], within: 3 * MINUTE, alsoRight: ['battery-low'] },
  {
    kind: 'fill-long',
    says: 'fill-long',
    from: ['called'],
    within: 6 * HOUR,
    alsoRight: ['yield-falling', 'energy-rising', 'no-rise', 'tank-low'],
  },
  {
    kind: 'tank-low',
    says: 'tank-low',
    from: ['below-reserve'],
    within: 2 * MINUTE,
    alsoRight: ['fill-long', 'no-rise', 'leak'],
  },
  {
    kind: 'battery-low',
    says: 'battery-low',
    from: ['charge-low', 'cut-off'],
    within: 2 * MINUTE,
    alsoRight: ['site-silent', 'fill-long', 'array-dark', 'battery-not-full', 'battery-sag'],
  },
  {
    kind: 'line-freezing',
    says: 'freezing',
    from: ['line-at-zero'],
    within: 5 * MINUTE,
    alsoRight: ['freeze-risk'],
    month: 0,
  },
  { kind: 'board-silent', says: 'board-silent', from: ['last-word'], within: 6 * MINUTE, alsoRight: [] },
  { kind: 'site-silent', says: 'site-silent', from: ['last-word'], within: 16 * MINUTE, alsoRight: [] },
  {
    kind: 'probe-fouled',
    says: 'sensor-suspect',
    from: ['probes-contradict'],
    within: 30 * MINUTE,
    alsoRight: ['no-rise'],
  },
]
