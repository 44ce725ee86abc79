/**
 * One site's part of the line, from stored samples to notices: the engine in event time, the judge, and going back when
 * something came late. Writes nothing by itself: what is to be written is gathered and taken by `Line` in one transaction.
 */
import { type Engine, type EngineEffects, createEngine } from '../infer/engine.js'
import { Order } from '../infer/order.js'
import type { EngineState } from '../infer/state.js'
import { type Change, createJudge, type Judge, type JudgeState } from '../judge/judge.js'
import type { Alarm, Notice } from '../model/alarm.js'
import { type DaemonFacts, DAEMON_WELL } from '../model/daemon-facts.js'
import type { Facts } from '../model/facts.js'
import type { EnergyHour } from '../model/facts-balance.js'
import type { Day, FillCycle } from '../model/fill.js'
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import type { Modes } from '../model/modes.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { ModeOverrides } from '../record/modes.js'
import type { Store } from '../record/store.js'
import { Again } from './again.js'
import { modesAt } from './modes.js'
import { clockOf, type Fed, newerOf } from './uplink/feed.js'

export type SiteLineOptions = {
  readonly site: SiteSettings
  readonly store: Store
  /** False: history is only derived (import, recompute); nobody is told anything. */
  readonly judging: boolean
  /** How long readings are waited for before a look moves past their time; the limits' figure unless given. */
  readonly latenessMs?: Ms
  readonly onFacts?: (site: SiteSettings, facts: Facts) => void
}

/** What a step has found out and not yet written. */
export type Findings = {
  cycles: FillCycle[]
  days: Map<string, Day>
  energyHours: EnergyHour[]
  snapshots: { at: Ms; text: string }[]
  notices: Notice[]
  /** Made of the notices, once; kept with them until the outbox has them. */
  messages: Message[]
  alarms: Map<string, Alarm>
  judged: boolean
}

/** Samples between two looks at the outside while history is derived. */
const PIECE_SAMPLES = 200_000

export class SiteLine {
  readonly site: SiteSettings
  readonly engine: Engine
  readonly judge: Judge
  readonly series: readonly number[]
  readonly #store: Store
  readonly #options: SiteLineOptions
  readonly #indexOf = new Map<string, number>()
  readonly #order = new Order()
  readonly #effects: EngineEffects
  state: EngineState
  judgeState: JudgeState
  /** Looks at or before this instant have been judged. */
  judgedAt: Ms
  found: Findings = nothing()
  /** Readings set aside by the step gate. */
  tooFast = 0
  #facts: Facts | null = null
  /** What was so before going back: while the past is run again, its looks are not now. */
  #factsBefore: Facts | null = null
  daemon: DaemonFacts = DAEMON_WELL
  #said: ModeOverrides
  #modes: Modes
  #rebases: readonly Ms[]
  #lateFrom: Ms | null = null
  /** When the first of the late samples came, when the last, and how many. */
  #lateAt: Ms = 0
  #lateLast: Ms = 0
  #lateCount = 0
  #again: Again | null = null
  #backError: unknown = null
  /** Set where the readings come by the uplink of a daemon at the place. */
  #fed: Fed | null = null
  #now: Ms = 0
  #steppedAt: Ms = 0
  #reached: Ms = 0
  /** Fills that ended up to here have been announced; going back does not announce them again. */
  #announced: Ms = 0
  readonly #latenessMs: Ms
  readonly #feed = (signal: number, t: Ms, value: number): void => this.feed(signal, t, value)

  constructor(options: SiteLineOptions) {
    const { site, store } = options
    this.site = site
    this.#latenessMs = options.latenessMs ?? LIMITS.latenessMs
    this.#store = store
    this.#options = options
    this.engine = createEngine(site)
    this.judge = createJudge(site)
    this.series = this.engine.signals.map((key) => store.series(site.id, key))
    for (const [index, key] of this.engine.signals.entries()) this.#indexOf.set(key, index)
    this.state = this.engine.initial()
    const kept = store.judge.load(site.id)
    this.judgeState = kept === null ? this.judge.initial() : this.judge.restore(kept.text)
    this.judgedAt = kept?.at ?? 0
    this.#said = store.modes.get(site.id)
    this.#modes = modesAt(site, this.#said, null, 0)
    this.#rebases = this.#readRebases()
    this.#effects = {
      fill: (cycle) => this.found.cycles.push(cycle),
      day: (day) => this.found.days.set(day.date, day),
      energy: (hour) => this.found.energyHours.push(hour),
      look: (facts) => this.#look(facts),
      hour: (at) => this.#hour(at),
      tooFast: (signal, t, value) => this.#tooFast(signal, t, value),
    }
  }

  /** Index of a signal, or −1 where the configuration has no such key. */
  indexOf(key: string): number {
    return this.#indexOf.get(key) ?? -1
  }

  /** The instant before which everything has been taken in. */
  get reached(): Ms {
    return this.#again === null ? this.state.at : this.#again.target
  }

  /** What is so as of the last look that was not on the way back; null before the first. */
  get facts(): Facts | null {
    return this.#again === null ? this.#facts : this.#factsBefore
  }

  get goingBack(): boolean {
    return this.#again !== null || this.#lateFrom !== null
  }

  /** Whether a sample comes too late to be taken in as it comes: what it touches must be derived again. */
  isLate(t: Ms): boolean {
    return t < (this.#again === null ? this.state.at : this.#again.position)
  }

  /** A stored, new sample. Late ones make the site go back; returns true for those. */
  take(index: number, t: Ms, value: number, now: Ms): boolean {
    if (t >= this.reached) {
      this.#order.add(index, t, value)
      return false
    }
    // Not yet passed on the way back: it is stored, so it will be read there.
    if (!this.isLate(t)) return false
    if (this.#lateFrom === null) {
      this.#lateAt = now
      this.#lateCount = 0
    }
    if (this.#lateFrom === null || t < this.#lateFrom) this.#lateFrom = t
    this.#lateLast = now
    this.#lateCount += 1
    return true
  }

  /** A sample that is not stored: only the watch goes on with it. */
  watch(key: string, t: Ms, value: number): void {
    const index = this.indexOf(key)
    if (index >= 0 && t >= this.reached) this.#order.add(index, t, value)
  }

  /** The earliest late sample whose snapshots are to be dropped with it; null: none. */
  get lateFrom(): Ms | null {
    return this.#lateFrom
  }

  /** Takes up stored state and the samples after it, as far as `until`. */
  resume(until: Ms): void {
    const again = new Again(this, this.#store, null, until)
    again.begin()
    this.#again = again
    const after = again.target
    this.#store.read(this.series, after, Number.MAX_SAFE_INTEGER, (index, t, value) => this.#order.add(index, t, value))
  }

  /** Derives everything from `from` on again. */
  goBackTo(from: Ms): void {
    this.#lateFrom = this.#lateFrom === null ? from : Math.min(this.#lateFrom, from)
    this.#lateAt = Number.NEGATIVE_INFINITY
  }

  /** Derives from `from` to `target` now, piece by piece, with a word after each piece. */
  deriveAgain(from: Ms, target: Ms, eachPiece: (at: Ms) => void): void {
    const again = new Again(this, this.#store, from, target)
    for (again.progress(PIECE_SAMPLES); !again.done; again.progress(PIECE_SAMPLES)) eachPiece(this.state.at)
    this.engine.flush(this.state, this.#effects)
  }

  /**
   * Brings the site up to `now` less the lateness window, or, on the way back, a piece of at most about `samplesMax`
   * samples nearer to it. Returns how many samples that piece had; 1 where it had none.
   */
  step(now: Ms, samplesMax = Number.POSITIVE_INFINITY): number {
    this.#steppedAt = now
    this.#now = clockOf(this.#fed, now)
    const until = this.#now - this.#latenessMs
    if (this.#again === null && samplesMax > 0 && this.#dueBack(now)) this.#goBack(now)
    let taken = 0
    if (this.#again !== null) {
      if (samplesMax <= 0) return 0
      taken = Math.max(1, this.#again.progress(samplesMax))
      if (!this.#again.done) return taken
      this.#again = null
      this.#factsBefore = null
    }
    this.#order.release(until, this.#feed)
    this.advance(until)
    this.#reached = Math.max(this.#reached, this.state.at)
    return taken
  }

  /** A frame has come from the daemon at the place. */
  feedFrom(fed: Fed): void {
    this.#fed = newerOf(this.#fed, fed)
  }

  /** True while the site is on its way back, and has more of it to go than it was given. */
  get behind(): boolean {
    return this.#again !== null || this.#dueBack(this.#steppedAt)
  }

  /**
   * Late samples are gathered for a while, then derived from together. While a board empties its memory, thousands of
   * them come one upon the other: then the site waits for the end of that, or it would go the same way many times.
   */
  #dueBack(now: Ms): boolean {
    if (this.#lateFrom === null) return false
    const waited = now - this.#lateAt
    if (waited < LIMITS.rederiveAfterMs) return false
    if (this.#lateCount < LIMITS.floodSamples || waited >= LIMITS.floodWaitMaxMs) return true
    return now - this.#lateLast >= LIMITS.floodPauseMs
  }

  /** Everything still open is handed over: the end of a replay, an import or a recompute. */
  finish(now: Ms): void {
    this.#lateAt = Number.NEGATIVE_INFINITY
    this.step(now)
    if (this.#lateFrom !== null) this.step(now)
    if (this.#lateFrom !== null) throw this.#backError
    this.engine.flush(this.state, this.#effects)
  }

  /** The store may not have it now: then the watch goes on with what is known, and it is tried again. */
  #goBack(now: Ms): void {
    const again = new Again(this, this.#store, this.#lateFrom, this.state.at)
    try {
      again.begin()
    } catch (error) {
      this.#backError = error
      this.#lateAt = now
      return
    }
    this.#lateFrom = null
    this.#factsBefore = structuredClone(this.#facts)
    this.#again = again
  }

  feed(signal: number, t: Ms, value: number): void {
    this.#rebaseUpTo(t)
    this.engine.feed(this.state, signal, t, value, this.#effects)
  }

  advance(t: Ms): void {
    this.#rebaseUpTo(t)
    this.engine.advance(this.state, t, this.#effects)
  }

  /** People changed a mode or the service log. */
  reread(now: Ms): void {
    this.#said = this.#store.modes.get(this.site.id)
    this.#modes = modesAt(this.site, this.#said, this.state.occupied, now)
    this.#rebases = this.#readRebases()
  }

  get modes(): Modes {
    return this.#modes
  }

  /** Of these fills the ones that nobody has heard of yet. */
  unannounced(cycles: readonly FillCycle[]): readonly FillCycle[] {
    const fresh = cycles.filter((cycle) => cycle.end > this.#announced)
    for (const cycle of fresh) this.#announced = Math.max(this.#announced, cycle.end)
    return fresh
  }

  takeFindings(): Findings {
    const { found } = this
    this.found = nothing()
    return found
  }

  #look(facts: Facts): void {
    this.#facts = facts
    if (!this.#options.judging || facts.at <= this.judgedAt) return
    this.judgedAt = facts.at
    this.#modes = modesAt(this.site, this.#said, facts.occupied, facts.at)
    const said = this.judge.step(this.judgeState, {
      facts,
      modes: this.#modes,
      daemon: this.daemon,
      now: Math.max(this.#now, facts.at),
    })
    this.gather(said.notices, said.changes)
    if (said.keep) this.found.judged = true
    this.#options.onFacts?.(this.site, facts)
  }

  /** Notes what the judge said, to be written with the judge's state. */
  gather(notices: readonly Notice[], changes: readonly Change[]): void {
    for (const notice of notices) this.found.notices.push(notice)
    for (const { alarm } of changes) this.found.alarms.set(`${alarm.key} ${alarm.raised}`, alarm)
    if (notices.length > 0 || changes.length > 0) this.found.judged = true
  }

  #hour(at: Ms): void {
    // What came late is missing from this state, if it lies before it.
    if (this.#lateFrom !== null && at > this.#lateFrom) return
    this.found.snapshots.push({ at, text: this.engine.serialise(this.state) })
  }

  #tooFast(signal: number, t: Ms, value: number): void {
    if (t < this.#reached) return
    const key = this.engine.signals[signal] ?? ''
    const board = this.site.boards[this.engine.plan.signals[signal]?.board ?? -1]?.id ?? ''
    this.tooFast += 1
    this.#store.noteRefusal(this.site.id, { reason: 'too-fast', board, at: t, example: `${key} ${value}` })
  }

  #readRebases(): readonly Ms[] {
    return this.#store.journal
      .list(this.site.id, 0, Number.MAX_SAFE_INTEGER)
      .filter((entry) => entry.newBaseline)
      .map((entry) => entry.at)
  }

  /** A baseline begins after the look at its instant and before any later one, however the line gets past it. */
  #rebaseUpTo(t: Ms): void {
    for (const at of this.#rebases) {
      if (at > t || at <= (this.state.rebasedAt ?? Number.NEGATIVE_INFINITY)) continue
      this.engine.advance(this.state, at, this.#effects)
      this.engine.rebase(this.state, at)
    }
  }
}

function nothing(): Findings {
  return {
    cycles: [],
    days: new Map(),
    energyHours: [],
    snapshots: [],
    notices: [],
    messages: [],
    alarms: new Map(),
    judged: false,
  }
}
