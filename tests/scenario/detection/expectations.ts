/** What ought to be said of each fault, from when it counts, and what else may be said without being wrong. */
import type { FaultKind } from '../../../simulators/fault-table.js'
import type { Severity } from '../../../simulators/fault.js'
import type { SiteId } from '../../../simulators/plan.js'
import type { MarkId } from '../../../simulators/truth.js'
import type { AlarmId } from '../../../src/model/alarm.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../../src/model/time.js'

export type Exception = {
  readonly site?: SiteId
  readonly severity?: Severity
  readonly says?: AlarmId
  /** Told instead by some of the seeds, and as right. */
  readonly or?: readonly AlarmId[]
  readonly within?: Ms
  /** For docs/detection.md. */
  readonly because: string
}

export type Expectation = {
  readonly kind: FaultKind
  /** Null: nothing is to be told of it, however strong. */
  readonly says: AlarmId | null
  /** The moment that the promise counts from; 'fault-began' where the fault itself is the moment. */
  readonly from: readonly (MarkId | 'last-word')[]
  readonly within: Ms
  /** Also no wrong diagnosis: consequences, and what looks the same from outside (docs/detection.md). */
  readonly alsoRight: readonly AlarmId[]
  /** Where the sensors of a site, or samples each 10 s, cannot show it as the contract has it. */
  readonly except?: readonly Exception[]
  /** Severities of which nothing is to be told. */
  readonly nothingOf?: readonly Severity[]
  /** Nobody is there from the end of the ordinary weeks on. */
  readonly empty?: true
  /** And the calendar says so. */
  readonly declared?: true
  /** The month (0–11) in which the run begins; May unless given. */
  readonly month?: number
  /** Days that are learned from before, and watched after; what slow conditions need. */
  readonly days?: Readonly<Record<SiteId, { readonly learn: number; readonly watch: number }>>
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
    kind: 'slow-well',
    says: 'dry-well',
    from: ['water-stopped', 'no-water'],
    within: 5 * MINUTE,
    alsoRight: ['tank-low', 'energy-rising', 'yield-falling', 'fill-long'],
    except: [
      {
        severity: 'mild',
        within: 15 * MINUTE,
        because: 'the well gives so much that the pump gulps as much water as air for minutes before it runs light',
      },
    ],
  },
  {
    kind: 'control-chatter',
    says: 'sensor-suspect',
    from: ['called'],
    within: 3 * MINUTE,
    alsoRight: ['fill-long'],
  },
  {
    kind: 'locked-rotor',
    says: 'pump-stalled',
    from: ['rotor-locked'],
    within: MINUTE,
    alsoRight: ['pump-no-start', 'tank-low', 'battery-low'],
    except: [
      {
        severity: 'strong',
        says: 'pump-no-start',
        within: HOUR,
        because: 'the fuse blows after 4 s, mostly between two samples: from outside it is a pump that does not start',
      },
      {
        severity: 'middle',
        within: 3 * MINUTE,
        because: 'a protector that trips within 8 s shows one sample a try, as inrush does: its second try proves it',
      },
    ],
  },
  {
    kind: 'no-start',
    says: 'pump-no-start',
    from: ['called'],
    within: 15 * MINUTE,
    alsoRight: ['tank-low', 'fill-long'],
    except: [
      {
        site: 'juniper',
        within: HOUR,
        because:
          'a level sensor sees the call only when the level is some 2.5 mm below the usual start, which takes about 3 l of draw',
      },
    ],
  },
  {
    kind: 'no-rise',
    says: 'no-rise',
    from: ['no-water', 'water-stopped'],
    within: 10 * MINUTE,
    alsoRight: ['fill-long', 'tank-low', 'battery-low'],
    except: [
      {
        site: 'fern',
        or: ['fill-long'],
        within: 3 * HOUR,
        because:
          'with probes only, a fault in the middle of a fill or a trickle that wets the low contact shows as a fill without end, and a long shower at its start hides it for half an hour',
      },
    ],
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
    except: [
      {
        site: 'juniper',
        severity: 'mild',
        within: 5 * MINUTE,
        because: 'at 3 l/min a level sensor that stands 4 mm high is behind by a minute and a half',
      },
      {
        site: 'fern',
        says: 'no-rise',
        within: 3 * HOUR,
        because: 'with probes only nothing is seen below the low contact; that it stays dry while the pump runs is',
      },
    ],
  },
  {
    kind: 'battery-low',
    says: 'battery-low',
    from: ['charge-low', 'cut-off'],
    within: 2 * MINUTE,
    alsoRight: ['site-silent', 'fill-long', 'tank-low', 'array-dark', 'battery-not-full', 'battery-sag'],
  },
  {
    kind: 'line-freezing',
    says: 'freezing',
    from: ['line-at-zero'],
    within: 5 * MINUTE,
    alsoRight: ['freeze-risk'],
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
  {
    kind: 'level-stuck',
    says: 'sensor-suspect',
    from: ['called'],
    within: 30 * MINUTE,
    alsoRight: ['no-rise', 'fill-long', 'overfill'],
  },
  { kind: 'level-failed', says: 'sensor-suspect', from: ['fault-began'], within: 30 * MINUTE, alsoRight: [] },
  {
    kind: 'unit-slip',
    says: 'sensor-suspect',
    from: ['fault-began'],
    within: 30 * MINUTE,
    alsoRight: [],
    nothingOf: ['mild'],
  },
  {
    kind: 'thermometer-failed',
    says: 'sensor-suspect',
    from: ['fault-began'],
    within: 30 * MINUTE,
    alsoRight: [],
    nothingOf: ['mild'],
  },
  {
    kind: 'current-dead',
    says: 'sensor-suspect',
    from: ['called'],
    within: 90 * MINUTE,
    alsoRight: ['pump-no-start'],
  },
  {
    kind: 'yield-falling',
    says: 'yield-falling',
    from: ['fault-began'],
    within: 7 * DAY,
    alsoRight: ['energy-rising', 'fill-long'],
    days: { juniper: { learn: 14, watch: 14 }, fern: { learn: 40, watch: 60 } },
    except: [
      {
        site: 'juniper',
        severity: 'middle',
        within: 12 * DAY,
        because: 'it wears by 1 % a day: 5 fills after the tenth per cent',
      },
      {
        site: 'fern',
        within: 60 * DAY,
        because:
          'with probes only a fill shows the rate of the pump when nobody draws: the quickest of six fills tells, three times in a row',
      },
    ],
  },
  {
    kind: 'accumulator-waterlogged',
    says: 'house-pump-cycling',
    from: ['house-often'],
    within: 30 * MINUTE,
    alsoRight: [],
    except: [
      {
        severity: 'strong',
        within: 6 * HOUR,
        because:
          'starts every 8 s are mostly not seen in samples each 10 s, and what is seen of them looks like longer runs',
      },
    ],
  },
  {
    kind: 'house-drip',
    says: 'house-pump-cycling',
    from: ['fault-began'],
    within: HOUR,
    alsoRight: ['leak'],
    empty: true,
    except: [
      {
        severity: 'mild',
        within: 12 * HOUR,
        because: 'a start every 40 min is told by its evenness, which takes eight of them',
      },
      {
        severity: 'middle',
        within: 1.5 * HOUR,
        because: 'people draw evenly for a while too, so it takes eight starts',
      },
    ],
  },
  {
    kind: 'house-pump-runs-on',
    says: 'house-pump-cycling',
    from: ['house-runs'],
    within: 25 * MINUTE,
    alsoRight: ['tank-low', 'leak', 'fill-long', 'no-rise'],
  },
  {
    kind: 'battery-ageing',
    says: 'battery-sag',
    // Only starts that the battery carries show it; by day a charger that holds the voltage carries them.
    from: ['third-sagging-start'],
    within: 10 * MINUTE,
    alsoRight: ['battery-low'],
    month: 5,
    days: { juniper: { learn: 16, watch: 16 }, fern: { learn: 28, watch: 24 } },
    except: [
      {
        site: 'fern',
        within: 8 * DAY,
        because:
          'without a thermometer at the battery the drop must exceed what the season explains, and each start shows it to 15 %: some starts more',
      },
    ],
  },
  {
    kind: 'cold-charge',
    says: 'battery-cold-charge',
    from: ['charged-cold'],
    within: 2 * MINUTE,
    alsoRight: ['freezing', 'freeze-risk'],
    days: { juniper: { learn: 14, watch: 6 }, fern: { learn: 14, watch: 6 } },
  },
  {
    kind: 'array-dark',
    says: 'array-dark',
    // It begins at sunrise: 9 h later is two hours past noon.
    from: ['fault-began'],
    within: 9 * HOUR,
    alsoRight: ['battery-low', 'battery-not-full'],
  },
  {
    kind: 'cold-lock-out',
    says: null,
    from: [],
    within: 0,
    alsoRight: ['freezing', 'freeze-risk'],
    days: { juniper: { learn: 14, watch: 6 }, fern: { learn: 14, watch: 6 } },
  },
  {
    kind: 'storm-week',
    says: null,
    from: [],
    within: 0,
    alsoRight: ['battery-low', 'battery-not-full'],
    days: { juniper: { learn: 14, watch: 8 }, fern: { learn: 14, watch: 8 } },
  },
  {
    kind: 'leak',
    says: 'leak',
    from: ['fault-began'],
    within: 6 * HOUR,
    // A pump that works day and night for a leak may ask too much of a small battery.
    alsoRight: ['fill-long', 'yield-falling', 'energy-rising', 'tank-low', 'battery-low'],
    empty: true,
    declared: true,
    month: 6,
    days: { juniper: { learn: 14, watch: 2 }, fern: { learn: 14, watch: 8 } },
    except: [
      {
        site: 'fern',
        severity: 'strong',
        within: 12 * HOUR,
        because: 'with probes only a leak shows when the tank has gone from full to the call: 240 l',
      },
      { site: 'fern', severity: 'middle', within: 2 * DAY, because: 'as above: 240 l at 15 l/h are 16 h, from full' },
      { site: 'fern', within: 7 * DAY, because: 'as above: 240 l at 4 l/h are 60 h, from full' },
    ],
  },
  {
    kind: 'toilet-runs',
    says: 'leak',
    from: ['fault-began'],
    // It begins at six in the morning; the quiet hours of the next night end at five.
    within: 24 * HOUR,
    alsoRight: ['fill-long', 'yield-falling', 'energy-rising', 'tank-low', 'no-rise'],
    month: 6,
  },
  { kind: 'board-garbled', says: 'board-silent', from: ['fault-began'], within: 10 * MINUTE, alsoRight: [] },
  {
    kind: 'clock-unset',
    says: 'clock-suspect',
    from: ['fault-began'],
    within: 15 * MINUTE,
    alsoRight: ['board-silent'],
  },
  {
    kind: 'board-browns-out',
    says: 'sensor-suspect',
    from: ['fault-began'],
    // Three of four starts, and the pump starts once or twice a day.
    within: 72 * HOUR,
    alsoRight: [],
  },
  { kind: 'board-restarts', says: 'sensor-suspect', from: ['fault-began'], within: 2 * HOUR, alsoRight: [] },
  { kind: 'voltage-unit-slip', says: 'sensor-suspect', from: ['fault-began'], within: HOUR, alsoRight: [] },
  { kind: 'level-unit-slip', says: 'sensor-suspect', from: ['fault-began'], within: HOUR, alsoRight: [] },
  { kind: 'temperature-unit-slip', says: 'sensor-suspect', from: ['fault-began'], within: HOUR, alsoRight: [] },
  { kind: 'voltage-stuck', says: 'sensor-suspect', from: ['called'], within: 90 * MINUTE, alsoRight: [] },
  { kind: 'voltage-dead', says: 'sensor-suspect', from: ['fault-began'], within: 30 * MINUTE, alsoRight: [] },
]

/** What is expected of one case. */
export function expected(
  of: Expectation,
  site: SiteId,
  severity: Severity,
): { readonly says: AlarmId | null; readonly or: readonly AlarmId[]; readonly within: Ms } {
  const exception = of.except?.find((one) => (one.site ?? site) === site && (one.severity ?? severity) === severity)
  return {
    says: exception?.says ?? of.says,
    or: [...(exception?.or ?? []), ...(of.says === null ? [] : [of.says])],
    within: exception?.within ?? of.within,
  }
}
