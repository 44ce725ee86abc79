/** What one alarm is made of. Each file in alarms/ gives one; alarms/index.ts lists them. */
import { ALARM_SPECS, type AlarmNumbers } from '../model/alarm-settings.js'
import type { AlarmId, AlarmWords, Evidence, Priority } from '../model/alarm.js'
import type { DaemonFacts } from '../model/daemon-facts.js'
import type { Facts } from '../model/facts.js'
import type { Modes } from '../model/modes.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Holds } from './delay.js'
import type { Phrase } from './phrase.js'

/** Everything an alarm may look at. One object per judge, filled anew at each look. */
export type View = {
  facts: Facts
  modes: Modes
  daemon: DaemonFacts
  /** Event time of the look. */
  at: Ms
  /** The daemon's clock. */
  now: Ms
  /** The longest outage of the whole site in the last 30 days that healed itself. */
  longestOutageMs: Ms
  /** When the whole site was heard again after its latest outage; null: none is remembered. */
  heardAgainAt: Ms | null
  /** Since when nobody is said to be there (null: somebody is), and when the place was last opened after winter. */
  awaySince: Ms | null
  openedAt: Ms | null
  /** Whether the alarm of this subject is active now, for deadbands and for "until seen otherwise". */
  isActive(id: AlarmId, subject: string): boolean
}

/** What one look says of one subject of one alarm. A subject without a verdict does not hold. */
export type Verdict = {
  readonly subject: string
  readonly holds: Holds
  /** When the condition began, event time; null: the first look at which it held. */
  readonly since: Ms | null
  /** One of the definition's causes. */
  readonly cause: string
  readonly evidence: readonly Evidence[]
  /** More urgent than the alarm's usual priority; a configured priority stands above it. */
  readonly priority: Priority | null
  /** Seconds it must hold, where this cause needs another wait than its alarm; a configured delay stands above it. */
  readonly onDelayS?: number
}

/** Nothing holds: the answer of a quiet look, shared so that it costs nothing. */
export const QUIET: readonly Verdict[] = Object.freeze([])

/** Cannot be told now. Made once per subject, not per look. */
export function unknownOf(subject: string): readonly Verdict[] {
  return Object.freeze([{ subject, holds: 'unknown' as const, since: null, cause: '', evidence: [], priority: null }])
}

export function holding(
  subject: string,
  since: Ms | null,
  cause: string,
  evidence: readonly Evidence[],
  priority: Priority | null = null,
): Verdict {
  // Reckoned instants are seldom whole milliseconds; those of a row are.
  return { subject, holds: true, since: since === null ? null : Math.round(since), cause, evidence, priority }
}

/** What words are made from: the verdict that raised the alarm and the look it came from. */
export type Telling = { readonly view: View; readonly verdict: Verdict; readonly since: Ms; readonly say: Phrase }

/** An alarm made ready for one site. */
export type Watch = {
  look(view: View): readonly Verdict[]
  words(telling: Telling): AlarmWords
}

export type Prepared<I extends AlarmId> = {
  readonly site: SiteSettings
  readonly numbers: AlarmNumbers<I>
}

/** Another alarm that explains this one while it stands. */
export type Explainer = {
  readonly by: AlarmId
  /** Only with one of these causes. */
  readonly causes?: readonly string[]
  /** Only if the other's subject is the board that this subject (a signal or a board) belongs to. */
  readonly sameBoard?: true
  /** Only where the explained alarm itself has one of these causes. */
  readonly ofCauses?: readonly string[]
  /** Only if it began within this time of this one (several of one kind from one cause). */
  readonly withinMs?: number
}

export type AlarmDefinition = {
  readonly id: AlarmId
  /** "holds when", one sentence for the manual. */
  readonly meaning: string
  /** How soon it is told, for the manual. */
  readonly toldWithin: string
  /** What it needs to be able to say anything, for the manual. */
  readonly needs: string
  /** Cause code and what it means, for the manual and for `alarms.csv`. */
  readonly causes: Readonly<Record<string, string>>
  /** What to do, for the manual. */
  readonly advice: string
  readonly explainedBy: readonly Explainer[]
  /** Quiet when the place is winterized. */
  readonly quietWhenWinterized: boolean
  /** Quiet while the site's own figures are being learned: the alarm rests on them. */
  readonly quietWhenLearning: boolean
  /** Quiet while people work at the place. */
  readonly quietInMaintenance: boolean
  /** Causes that are surer than the others: seen while the alarm stands, they replace its cause and words, untold. */
  readonly surerCauses: readonly string[]
  /** Stays until a person has acknowledged it. */
  readonly latches: boolean
  /** `now` for conditions of the daemon itself, which has no event time. */
  readonly clock: 'event' | 'now'
  prepare(site: SiteSettings): Watch
}

/** The part of a definition that every file writes itself; the rest has defaults. */
export type DefinitionParts<I extends AlarmId> = Pick<
  AlarmDefinition,
  'meaning' | 'toldWithin' | 'needs' | 'causes' | 'advice'
> &
  Partial<Omit<AlarmDefinition, 'id' | 'prepare'>> & {
    readonly id: I
    readonly prepare: (prepared: Prepared<I>) => Watch
  }

export function defineAlarm<I extends AlarmId>(parts: DefinitionParts<I>): AlarmDefinition {
  return {
    explainedBy: [],
    quietWhenWinterized: false,
    quietWhenLearning: false,
    quietInMaintenance: true,
    surerCauses: [],
    latches: false,
    clock: 'event',
    ...parts,
    prepare: (site) => parts.prepare({ site, numbers: numbersOf(parts.id, site) }),
  }
}

/** The alarm's numbers for one site: what the owner set, else the default. */
export function numbersOf<I extends AlarmId>(id: I, site: SiteSettings): AlarmNumbers<I> {
  const set = site.alarms[id]?.numbers ?? {}
  const specs: Readonly<Record<string, { readonly default: number }>> = ALARM_SPECS[id].numbers
  const numbers: Record<string, number> = {}
  for (const [name, spec] of Object.entries(specs)) numbers[name] = set[name] ?? spec.default
  // The names are those of the table that AlarmNumbers is made from.
  return numbers as AlarmNumbers<I>
}

/** Priority and delays for one site. */
export function delaysOf(id: AlarmId, site: SiteSettings): { onDelayS: number; offDelayS: number } {
  const set = site.alarms[id]
  const spec = ALARM_SPECS[id]
  return { onDelayS: set?.onDelayS ?? spec.onDelayS, offDelayS: set?.offDelayS ?? spec.offDelayS }
}
