/**
 * The stored samples of one site through engine and judge under any configuration. It writes nothing: what the alarms
 * would have said stays in memory.
 */
import { createEngine, type Engine, type EngineEffects } from '../infer/engine.js'
import type { EngineState } from '../infer/state.js'
import { createJudge, type Judge, type JudgeState } from '../judge/judge.js'
import { DAEMON_WELL } from '../model/daemon-facts.js'
import type { Facts } from '../model/facts.js'
import { LIMITS } from '../model/limits.js'
import type { SignalKey } from '../model/roles.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { ModeOverrides } from '../record/modes.js'
import type { Store } from '../record/store.js'
import type { Said } from './backtest-compare.js'
import { modesAt } from './modes.js'

/** What people set by hand is kept as it is now, not as it was then. */
const NOTHING_SAID: ModeOverrides = { away: null, winterized: null, maintenanceUntil: null }

export class Rerun {
  /** Signals of this configuration of which nothing is stored. */
  readonly unknown: readonly SignalKey[]
  samples = 0
  /** When messages would have gone out, ascending. */
  readonly messages: Ms[] = []
  readonly #site: SiteSettings
  readonly #store: Store
  readonly #engine: Engine
  readonly #judge: Judge
  readonly #state: EngineState
  readonly #judgeState: JudgeState
  readonly #series: number[] = []
  /** The engine's index of each series that is read. */
  readonly #signals: number[] = []
  readonly #rebases: readonly Ms[]
  readonly #said = new Map<string, Said>()
  readonly #effects: EngineEffects

  /** `learned`: a stored state of the engine to go on from; null: nothing is learned yet. */
  constructor(site: SiteSettings, store: Store, rebases: readonly Ms[], learned: string | null = null) {
    this.#site = site
    this.#store = store
    this.#rebases = rebases
    this.#engine = createEngine(site)
    this.#judge = createJudge(site)
    this.#state = learned === null ? this.#engine.initial() : this.#engine.restore(learned)
    this.#judgeState = this.#judge.initial()
    const known = new Map(store.seriesList(site.id).map(({ key, id }) => [key, id]))
    const unknown: SignalKey[] = []
    for (const [index, key] of this.#engine.signals.entries()) {
      const series = known.get(key)
      if (series === undefined || store.firstSample(series) === null) unknown.push(key)
      else {
        this.#series.push(series)
        this.#signals.push(index)
      }
    }
    this.unknown = unknown
    this.#effects = {
      fill: () => {},
      day: () => {},
      energy: () => {},
      look: (facts) => this.#look(facts),
      hour: () => {},
      tooFast: () => {},
    }
  }

  /** First and last stored sample of this site's signals; null: there is none. */
  span(): { readonly first: Ms; readonly last: Ms } | null {
    const firsts = this.#series.flatMap((one) => this.#store.firstSample(one) ?? [])
    const lasts = this.#series.flatMap((one) => this.#store.lastSample(one)?.t ?? [])
    return firsts.length === 0 ? null : { first: Math.min(...firsts), last: Math.max(...lasts) }
  }

  /** Takes the samples in `from` ≤ t < `to`. Call it with spans that follow each other. */
  run(from: Ms, to: Ms): void {
    this.#store.read(this.#series, from, to, (index, t, value) => {
      const signal = this.#signals[index]
      if (signal === undefined) return
      this.#rebaseUpTo(t)
      this.#engine.feed(this.#state, signal, t, value, this.#effects)
      this.samples += 1
    })
    this.#rebaseUpTo(to)
    this.#engine.advance(this.#state, to, this.#effects)
  }

  /** Every occurrence so far, ascending by raise. */
  get said(): readonly Said[] {
    return [...this.#said.values()].sort((a, b) => a.raised - b.raised || (a.key < b.key ? -1 : 1))
  }

  #look(facts: Facts): void {
    const outcome = this.#judge.step(this.#judgeState, {
      facts,
      modes: modesAt(this.#site, NOTHING_SAID, facts.occupied, facts.at),
      daemon: DAEMON_WELL,
      now: facts.at + LIMITS.latenessMs,
    })
    for (const { alarm } of outcome.changes) {
      const { key, id, subject, priority, since, raised, cleared, cause, explainedBy } = alarm
      const row = `${key} ${raised}`
      const told = this.#said.get(row)?.told ?? false
      const { title } = alarm.words
      this.#said.set(row, { key, id, subject, priority, since, raised, cleared, cause, title, explainedBy, told })
    }
    for (const notice of outcome.notices) {
      this.messages.push(notice.at)
      const row = `${notice.alarm.key} ${notice.alarm.raised}`
      const said = this.#said.get(row)
      if (said !== undefined && !said.told) this.#said.set(row, { ...said, told: true })
    }
  }

  /** As the line does it: what was learned is put aside after the look at that instant and before any later one. */
  #rebaseUpTo(t: Ms): void {
    for (const at of this.#rebases) {
      if (at > t || at <= (this.#state.rebasedAt ?? Number.NEGATIVE_INFINITY)) continue
      this.#engine.advance(this.#state, at, this.#effects)
      this.#engine.rebase(this.#state, at)
    }
  }
}
