/**
 * Works out sizes when somebody asks, one site after the other, in pieces with pauses between, so that receiving and
 * judging go on. An answer stands for the day.
 */
import { createEngine } from '../infer/engine.js'
import type { EngineState } from '../infer/state.js'
import type { SizingInput } from '../infer/sizing/setup.js'
import { seedFor, sizing } from '../infer/sizing/size.js'
import { LIMITS } from '../model/limits.js'
import type { SiteSettings } from '../model/settings.js'
import type { SizingResult } from '../model/sizing.js'
import { DAY, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'

/** Short days a year that a place is laid out for unless something else is asked. */
export const SHORT_DAYS_ALLOWED = 1

export type SizingAsk = { readonly needL: number | null; readonly shortDaysAllowed: number }

/** What is asked where nobody says otherwise: the water that the place uses, or says that it needs. */
export const USUAL_ASK: SizingAsk = { needL: null, shortDaysAllowed: SHORT_DAYS_ALLOWED }

/** What a sizing works with, read from the store. `state`: the engine's, for what was learned of the converter. */
export function sizingInput(
  store: Store,
  site: SiteSettings,
  state: Pick<EngineState, 'balance'> | null,
  ask: SizingAsk,
): SizingInput {
  const hours = store.energyHours.list(site.id, 0, Number.MAX_SAFE_INTEGER).slice(-LIMITS.sizingHoursMax)
  const days = store.days.list(site.id, '0000-00-00', '9999-99-99').slice(-LIMITS.sizingHoursMax / 24)
  const converterShare = state?.balance.converter ?? 0.95
  return { site, hours, days, ...ask, converterShare, seed: seedFor(hours.at(-1)?.at ?? 0) }
}

type Job = { readonly key: string; readonly begin: () => SizingInput; readonly settle: Settle }
type Settle = { readonly done: (result: SizingResult) => void; readonly failed: (error: unknown) => void }
type Kept = { readonly at: Ms; readonly answer: Promise<SizingResult> }

export type SizingDesk = {
  /** Rejects with `SizingBusy` while too many wait, and with what went wrong. */
  ask(site: SiteSettings, ask: SizingAsk): Promise<SizingResult>
  stop(): void
}

export class SizingBusy extends Error {}

export type SizingDeskOptions = {
  readonly store: Store
  readonly clock: Clock
  readonly stateOf: (site: string) => Pick<EngineState, 'balance'> | null
}

/** As long as a piece took, so long the rest of the daemon has at least until the next. */
const PAUSE_SHARE = 1
const PAUSE_LEAST_MS = 2

export function createSizingDesk({ store, clock, stateOf }: SizingDeskOptions): SizingDesk {
  const kept = new Map<string, Kept>()
  const waiting: Job[] = []
  let working = false
  let cancel: (() => void) | null = null
  let stopped = false

  const later = (ms: number, run: () => void): void => {
    cancel = clock.after(ms, run)
  }
  const next = (): void => {
    const job = waiting.shift()
    working = job !== undefined
    if (job === undefined || stopped) return
    let work: ReturnType<typeof sizing> | null = null
    const piece = (): void => {
      if (stopped) return
      const began = clock.monotonic()
      try {
        work ??= sizing(job.begin())
        const step = work.next()
        if (step.done !== true) {
          later(Math.max(PAUSE_LEAST_MS, PAUSE_SHARE * (clock.monotonic() - began)), piece)
          return
        }
        job.settle.done(step.value)
      } catch (error) {
        kept.delete(job.key)
        job.settle.failed(error)
      }
      later(PAUSE_LEAST_MS, next)
    }
    later(PAUSE_LEAST_MS, piece)
  }
  return {
    ask(site, ask) {
      const key = `${site.id} ${ask.needL ?? ''} ${ask.shortDaysAllowed}`
      const now = clock.now()
      const before = kept.get(key)
      if (before !== undefined && Math.floor(now / DAY) === Math.floor(before.at / DAY)) return before.answer
      if (waiting.length >= LIMITS.sizingWaitingMax) return Promise.reject(new SizingBusy())
      const answer = new Promise<SizingResult>((done, failed) => {
        waiting.push({ key, begin: () => sizingInput(store, site, stateOf(site.id), ask), settle: { done, failed } })
      })
      // Whoever asked hears of a failure; that nobody may be left to hear is no failure of its own.
      answer.catch(() => {})
      kept.delete(key)
      kept.set(key, { at: now, answer })
      const [oldest] = kept.keys()
      if (kept.size > LIMITS.sizingKeptMax && oldest !== undefined) kept.delete(oldest)
      if (!working) next()
      return answer
    },
    stop() {
      stopped = true
      cancel?.()
      for (const { settle } of waiting.splice(0)) settle.failed(new Error('the daemon stops'))
    },
  }
}

/** What was learned so far; without it, or where it no longer fits the configuration, the usual figures serve. */
export function latestState(store: Store, site: SiteSettings): EngineState | null {
  try {
    const kept = store.snapshots.latest(site.id, null)
    return kept === null ? null : createEngine(site).restore(kept.text)
  } catch {
    return null
  }
}
