/**
 * What the alarms would have said over stored history under another configuration, beside what they said.
 *
 * Two runs are compared with each other: the stored samples under the configuration as it is, and the same samples under
 * the proposed one. So every difference comes from the configuration alone. The alarms that were really raised are laid
 * beside them; they may differ from the first run, for history does not keep all that the daemon knew then: when samples
 * came in, its own troubles, what people switched by hand or acknowledged, and which version of the program it was.
 *
 * Both runs begin at the first stored sample, whatever `from` is, so that each has learned what it can.
 */
import type { SignalKey } from '../model/roles.js'
import type { SiteSettings } from '../model/settings.js'
import { DAY, HOUR, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import { type AlarmChange, compare, pair, type Said } from './backtest-compare.js'
import { Rerun } from './rerun.js'

/** What was stored of an alarm, as far as it is compared. */
export type StoredAlarm = Pick<Said, 'key' | 'priority' | 'raised' | 'cleared' | 'cause'>

export type SiteBacktest = {
  readonly site: string
  /** What was compared: alarms raised in from ≤ t < to. */
  readonly from: Ms
  readonly to: Ms
  /** Where the runs began: the first stored sample. */
  readonly learnedFrom: Ms
  readonly samples: { readonly configured: number; readonly proposed: number }
  readonly alarms: { readonly configured: number; readonly proposed: number; readonly same: number }
  readonly messages: { readonly configured: number; readonly proposed: number }
  readonly changes: readonly (AlarmChange & {
    /** The alarm of that time that was really raised; null: none was. */
    readonly stored: StoredAlarm | null
  })[]
  readonly stored: {
    readonly alarms: number
    /** Of these the first run, as configured, raises as well. */
    readonly again: number
    readonly onlyStored: readonly StoredAlarm[]
    /** Raised by the first run and not at the time. */
    readonly onlyAgain: readonly StoredAlarm[]
  }
  /** Signals that the proposed configuration names and of which nothing is stored. */
  readonly signalsUnknown: readonly SignalKey[]
  /** The way from payloads to samples differs; what is stored was read in the old way, and is not read anew. */
  readonly boardsDiffer: boolean
}

export type BacktestOptions = {
  /** Called after each piece, with the site and how far it is; a promise is waited for, so that others get their turn. */
  readonly eachPiece?: (site: SiteSettings, at: Ms, span: { readonly first: Ms; readonly last: Ms }) => unknown
}

const SLICE_MS = 6 * HOUR
/** The runs go on for so long after `to`, so that an alarm that comes later is not taken for one that is gone. */
const BEYOND_MS = DAY

/**
 * Compares every site that both configurations have, in the order of the first. Reads the store only. Whatever
 * `eachPiece` throws ends it.
 */
export async function backtest(
  store: Store,
  settings: readonly SiteSettings[],
  proposed: readonly SiteSettings[],
  from: Ms,
  to: Ms,
  options: BacktestOptions = {},
): Promise<readonly SiteBacktest[]> {
  const done: SiteBacktest[] = []
  for (const site of settings) {
    const other = proposed.find((one) => one.id === site.id)
    const one = other === undefined ? null : await backtestSite(store, site, other, { from, to }, options)
    if (one !== null) done.push(one)
  }
  return done
}

type Span = { readonly from: Ms; readonly to: Ms }

async function backtestSite(
  store: Store,
  site: SiteSettings,
  other: SiteSettings,
  asked: Span,
  { eachPiece }: BacktestOptions,
): Promise<SiteBacktest | null> {
  const rebases = store.journal
    .list(site.id, 0, Number.MAX_SAFE_INTEGER)
    .filter((entry) => entry.newBaseline)
    .map((entry) => entry.at)
  const configured = new Rerun(site, store, rebases)
  const proposed = new Rerun(other, store, rebases)
  const span = configured.span() ?? proposed.span()
  if (span === null) return null
  const { first, last } = span
  const end = Math.min(last + 1, asked.to + BEYOND_MS)
  for (let at = first; at < end; at += SLICE_MS) {
    const until = Math.min(end, at + SLICE_MS)
    configured.run(at, until)
    proposed.run(at, until)
    await eachPiece?.(site, until, { first, last: end })
  }
  const compared = { from: Math.max(asked.from, first), to: Math.min(asked.to, last + 1) }
  return sideBySide(store, site, other, { configured, proposed }, compared, first)
}

function sideBySide(
  store: Store,
  site: SiteSettings,
  other: SiteSettings,
  runs: { readonly configured: Rerun; readonly proposed: Rerun },
  { from, to }: Span,
  learnedFrom: Ms,
): SiteBacktest {
  const { configured, proposed } = runs
  const within = ({ raised }: { readonly raised: Ms }): boolean => raised >= from && raised < to
  const stored = store.alarms.list(site.id, learnedFrom, to + BEYOND_MS).map(storedOf)
  const { changes, same } = compare(configured.said, proposed.said, from, to)
  const again = pair(stored, configured.said).filter((both) => both.some((one) => one !== null && within(one)))
  const messagesOf = (run: Rerun): number => run.messages.filter((at) => at >= from && at < to).length
  return {
    site: site.id,
    from,
    to,
    learnedFrom,
    samples: { configured: configured.samples, proposed: proposed.samples },
    alarms: {
      configured: configured.said.filter(within).length,
      proposed: proposed.said.filter(within).length,
      same,
    },
    messages: { configured: messagesOf(configured), proposed: messagesOf(proposed) },
    changes: changes.map((change) => ({ ...change, stored: thatTime(change, stored) })),
    stored: {
      alarms: stored.filter(within).length,
      again: again.filter(([one, two]) => one !== null && two !== null).length,
      onlyStored: again.flatMap(([one, two]) => (one !== null && two === null ? [one] : [])),
      onlyAgain: again.flatMap(([one, two]) => (one === null && two !== null ? [storedOf(two)] : [])),
    },
    signalsUnknown: proposed.unknown.filter((key) => !configured.unknown.includes(key)),
    boardsDiffer: readingOf(site) !== readingOf(other),
  }
}

function storedOf({ key, priority, raised, cleared, cause }: StoredAlarm): StoredAlarm {
  return { key, priority, raised, cleared, cause }
}

/** The stored alarm of the same story as either side of a change. */
function thatTime(change: AlarmChange, stored: readonly StoredAlarm[]): StoredAlarm | null {
  const side = change.configured ?? change.proposed
  if (side === null) return null
  const same = stored.filter((one) => one.key === change.key)
  const match = pair(same, [side]).find(([one, two]) => one !== null && two !== null)
  return match?.[0] ?? null
}

/** What stored samples depend on: how payloads are read. How sure a sensor is, and what it is called, is not part of it. */
function readingOf(site: SiteSettings): string {
  const signals = site.boards.flatMap((board) =>
    board.signals.map((signal) => ({
      key: signal.key,
      decode: [signal.decode, signal.pointer, signal.unit, signal.scale, signal.offset, signal.table, signal.trueWhen],
      refuse: [signal.low, signal.high, signal.sentinels],
    })),
  )
  return JSON.stringify(signals)
}
