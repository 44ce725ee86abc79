/**
 * Tries another setting of an alarm over the last month when somebody asks: one at a time, in short pieces with pauses
 * between, so that receiving and judging go on. It reads the store only.
 *
 * Both runs begin with the engine's newest stored state before the span. Where there is none that still fits, they begin
 * with nothing learned, some weeks earlier as far as there are samples. The alarms of the place are judged from there
 * anew, so one that stood already counts as raised at the beginning, in both.
 */
import { createEngine } from '../infer/engine.js'
import type { AlarmId } from '../model/alarm.js'
import type { BacktestAnswer } from '../model/backtest.js'
import { LIMITS } from '../model/limits.js'
import type { AlarmSettings, SiteSettings } from '../model/settings.js'
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import { compare } from './backtest-compare.js'
import { Rerun } from './rerun.js'

/** Names as in the configuration file, figures in SI; what is not named stays as configured. */
export type AlarmChangeAsk = { readonly alarm: AlarmId; readonly settings: Readonly<Record<string, number>> }

export class BacktestBusy extends Error {}

export type BacktestDesk = {
  /** Rejects with `BacktestBusy` while another is worked on, and with what went wrong. */
  ask(site: SiteSettings, change: AlarmChangeAsk): Promise<BacktestAnswer>
  stop(): void
}

/** A piece is made shorter or longer towards this; a gap is run through quickly, and what follows may be dense. */
const PIECE_MS = 40
const SLICE_LEAST_MS = MINUTE
const SLICE_FIRST_MS = 5 * MINUTE
const SLICE_MOST_MS = HOUR
/** As long as a piece took, so long the rest of the daemon has at least until the next. */
const PAUSE_LEAST_MS = 2

export function withSettings(site: SiteSettings, { alarm, settings }: AlarmChangeAsk): SiteSettings {
  const { on_delay, off_delay, ...numbers } = settings
  const set: AlarmSettings | undefined = site.alarms[alarm]
  const other: AlarmSettings = {
    enabled: set?.enabled ?? null,
    priority: set?.priority ?? null,
    onDelayS: on_delay ?? set?.onDelayS ?? null,
    offDelayS: off_delay ?? set?.offDelayS ?? null,
    numbers: { ...set?.numbers, ...numbers },
  }
  return { ...site, alarms: { ...site.alarms, [alarm]: other } }
}

type Start = { readonly at: Ms; readonly text: string | null }

/** The newest stored state at or before `from` that fits this configuration, unless it is too old to run on from. */
function startOf(store: Store, site: SiteSettings, from: Ms, first: Ms): Start {
  const earliest = from - LIMITS.backtestLearnMs
  const kept = store.snapshots.latest(site.id, from + 1)
  if (kept !== null && kept.at >= earliest) {
    try {
      createEngine(site).restore(kept.text)
      return kept
    } catch {
      // Made for another configuration or by another version: as good as none.
    }
  }
  return { at: Math.max(first, earliest), text: null }
}

/** Yields between pieces; is handed how long the next may be, in event time. */
function* tryOut(
  store: Store,
  site: SiteSettings,
  change: AlarmChangeAsk,
  now: Ms,
): Generator<void, BacktestAnswer, Ms> {
  const rebases = store.journal
    .list(site.id, 0, now + 1)
    .filter((entry) => entry.newBaseline)
    .map((entry) => entry.at)
  const span = new Rerun(site, store, []).span()
  const first = span?.first ?? now
  const from = Math.max(now - LIMITS.backtestSpanMs, first)
  const to = Math.max(from, Math.min(now, (span?.last ?? now) + 1))
  const start = startOf(store, site, from, first)
  const configured = new Rerun(site, store, rebases, start.text)
  const proposed = new Rerun(withSettings(site, change), store, rebases, start.text)
  let slice = yield
  for (let at = start.at; at < to; ) {
    const until = Math.min(to, at + slice)
    configured.run(at, until)
    proposed.run(at, until)
    at = until
    slice = yield
  }
  const within = ({ raised }: { readonly raised: Ms }): boolean => raised >= from && raised < to
  const { changes, same } = compare(configured.said, proposed.said, from, to)
  const messagesOf = (run: Rerun): number => run.messages.filter((at) => at >= from && at < to).length
  return {
    from,
    to,
    runFrom: start.at,
    learned: start.text !== null,
    alarms: {
      configured: configured.said.filter(within).length,
      proposed: proposed.said.filter(within).length,
      same,
    },
    messages: { configured: messagesOf(configured), proposed: messagesOf(proposed) },
    changes: changes
      .slice(0, LIMITS.backtestChangesMax)
      .flatMap(({ change: kind, configured: ours, proposed: theirs }) => {
        const either = theirs ?? ours
        if (either === null) return []
        const { key, title, priority } = either
        return [
          { change: kind, key, title, priority, configured: ours?.raised ?? null, proposed: theirs?.raised ?? null },
        ]
      }),
    changesInAll: changes.length,
  }
}

export function createBacktestDesk({ store, clock }: { readonly store: Store; readonly clock: Clock }): BacktestDesk {
  let failed: ((error: unknown) => void) | null = null
  let cancel: (() => void) | null = null
  let stopped = false

  const run = (work: ReturnType<typeof tryOut>, done: (answer: BacktestAnswer) => void): void => {
    let slice: Ms = SLICE_FIRST_MS
    const piece = (): void => {
      const began = clock.monotonic()
      try {
        const step = work.next(slice)
        if (step.done === true) {
          failed = null
          done(step.value)
          return
        }
      } catch (error) {
        failed?.(error)
        failed = null
        return
      }
      const took = clock.monotonic() - began
      const wanted = slice * Math.min(2, PIECE_MS / Math.max(1, took))
      slice = Math.round(Math.min(SLICE_MOST_MS, Math.max(SLICE_LEAST_MS, wanted)))
      cancel = clock.after(Math.max(PAUSE_LEAST_MS, took), piece)
    }
    cancel = clock.after(PAUSE_LEAST_MS, piece)
  }
  return {
    ask(site, change) {
      if (stopped || failed !== null) return Promise.reject(new BacktestBusy())
      return new Promise((done, reject) => {
        failed = reject
        run(tryOut(store, site, change, clock.now()), done)
      })
    },
    stop() {
      stopped = true
      cancel?.()
      failed?.(new Error('the daemon stops'))
      failed = null
    },
  }
}
