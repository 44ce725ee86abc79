/**
 * Decides what someone should know. `step` takes the engine's facts at one look, moves every alarm of the site, groups
 * what belongs together and says what is to be told. Pure: state is plain JSON data, time is handed in, so live,
 * replay and backtest judge alike.
 */
import { type Alarm, type Notice, PRIORITIES } from '../model/alarm.js'
import type { DaemonFacts } from '../model/daemon-facts.js'
import type { Facts } from '../model/facts.js'
import { LIMITS } from '../model/limits.js'
import type { Modes } from '../model/modes.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import * as acts from './acts.js'
import { ALARM_DEFINITIONS } from './alarms/index.js'
import type { Verdict, View } from './definition.js'
import { type Entry, initialState, type JudgeState, newEntry, restoreState, rowOf, stands } from './entry.js'
import { explains, findCause, type Table } from './grouping.js'
import { isForgotten, type Judged, judged, live, type Step } from './life.js'
import { followSilence, longestOutageMs } from './outages.js'
import { createPhrase } from './phrase.js'
import { followPresence } from './presence.js'
import { forgetOld, isAllClearDue, note, noticeOfRaise } from './telling.js'

export type { Change } from './acts.js'
export type { Because, JudgeState } from './entry.js'

export type JudgeInput = {
  readonly facts: Facts
  readonly modes: Modes
  readonly daemon: DaemonFacts
  /** The daemon's clock, or the capture's. */
  readonly now: Ms
}

export type Outcome = {
  /** What is to be told, in order. */
  readonly notices: readonly Notice[]
  /** Alarm rows to store, with the word for why they moved. */
  readonly changes: readonly acts.Change[]
  /** Whether the judge's state is to be stored, with those rows and messages; it is worth it without any, too. */
  readonly keep: boolean
}

export type Judge = {
  initial(): JudgeState
  /** The state of a stored text (JSON of a state); a fresh one for null or for what this version cannot read. */
  restore(text: string | null): JudgeState
  /** Judges one look; the state is updated in place. A look at or before the last one judged changes nothing. */
  step(state: JudgeState, input: JudgeInput): Outcome
  acknowledge(state: JudgeState, key: string, by: string, at: Ms): acts.Change | null
  shelve(state: JudgeState, key: string, until: Ms, reason: string, by: string, at: Ms): acts.Change | null
  unshelve(state: JudgeState, key: string): acts.Change | null
  removeFromService(state: JudgeState, key: string, reason: string, by: string): acts.Change | null
  returnToService(state: JudgeState, key: string): acts.Change | null
  /** Alarms that people should see, the most urgent and then the oldest first. */
  active(state: JudgeState): readonly Alarm[]
}

const NOTHING: Outcome = Object.freeze({ notices: Object.freeze([]), changes: Object.freeze([]), keep: false })
const LEARNED: Outcome = Object.freeze({ ...NOTHING, keep: true })

/** A judge for one site. Alarms that its configuration disables are not watched. */
export function createJudge(site: SiteSettings): Judge {
  const alarms = ALARM_DEFINITIONS.filter(({ id }) => site.alarms[id]?.enabled !== false).map((definition) =>
    judged(definition, site),
  )
  const byId = new Map(alarms.map((alarm) => [alarm.definition.id, alarm]))
  const table: Table = { definitionOf: (id) => byId.get(id)?.definition ?? null, boardOf: boardsOf(site) }
  const say = createPhrase(site)
  let entries: Entry[] = []
  let view: View | null = null
  const isActive: View['isActive'] = (id, subject) => {
    for (const entry of entries) {
      if (entry.id === id && entry.subject === subject) return entry.delay.active
    }
    return false
  }

  /** One view for all looks: a site that is quiet costs no memory. */
  function viewOf(input: JudgeInput, state: JudgeState): View {
    view ??= {
      ...input,
      at: input.facts.at,
      longestOutageMs: 0,
      heardAgainAt: null,
      awaySince: null,
      openedAt: null,
      isActive,
    }
    view.awaySince = state.presence.awaySince
    view.openedAt = state.presence.openedAt
    view.longestOutageMs = longestOutageMs(state.silence, input.facts)
    view.heardAgainAt = state.silence.outages.at(-1)?.healed ?? null
    view.facts = input.facts
    view.modes = input.modes
    view.daemon = input.daemon
    view.at = input.facts.at
    view.now = input.now
    return view
  }

  function step(state: JudgeState, input: JudgeInput): Outcome {
    const { at } = input.facts
    if (state.at !== null && at <= state.at) return NOTHING
    state.at = at
    entries = state.entries
    const moved = followPresence(state.presence, input.modes, at)
    const learned = followSilence(state.silence, input.facts, input.daemon) || moved
    const looked = viewOf(input, state)
    let touched: Map<Entry, Step> | null = null
    for (const alarm of alarms) {
      const verdicts = alarm.watch.look(looked)
      if (entries.length === 0 && !anyHolds(verdicts)) continue
      touched ??= new Map()
      judgeOne(state, alarm, verdicts, looked, touched)
    }
    if (touched === null || entries.length === 0) return learned ? LEARNED : NOTHING
    const outcome = conclude(state, touched, looked)
    return outcome === NOTHING && learned ? LEARNED : outcome
  }

  function judgeOne(
    state: JudgeState,
    alarm: Judged,
    verdicts: readonly Verdict[],
    looked: View,
    touched: Map<Entry, Step>,
  ): void {
    const { id } = alarm.definition
    for (const verdict of verdicts) {
      if (verdict.holds !== true || state.entries.length >= LIMITS.alarmEntriesMax) continue
      if (!state.entries.some((entry) => entry.id === id && entry.subject === verdict.subject)) {
        state.entries.push(newEntry(id, verdict.subject))
      }
    }
    for (const entry of state.entries) {
      if (entry.id !== id) continue
      const verdict = verdicts.find((one) => one.subject === entry.subject) ?? null
      const moved: Step = { changed: false, worsened: false }
      live(entry, alarm, verdict, looked, say, moved)
      if (moved.changed) touched.set(entry, moved)
    }
  }

  function conclude(state: JudgeState, touched: Map<Entry, Step>, looked: View): Outcome {
    closeUnwatched(state, touched, looked.at)
    for (const entry of state.entries) regroup(entry, state, touched, looked)
    const notices: Notice[] = []
    for (const entry of state.entries) {
      const at = timeOf(entry, looked)
      forgetOld(entry, at)
      const notice = told(entry, state, touched.get(entry)?.worsened === true, at, looked.now)
      if (notice !== null) notices.push(notice)
    }
    const changes = [...touched.keys()].flatMap((entry) => {
      const alarm = rowOf(entry)
      return alarm === null ? [] : [{ alarm, because: entry.because }]
    })
    if (state.entries.some(isForgotten)) state.entries = state.entries.filter((entry) => !isForgotten(entry))
    return notices.length === 0 && changes.length === 0 ? NOTHING : { notices, changes, keep: true }
  }

  function timeOf(entry: Entry, looked: View): Ms {
    return byId.get(entry.id)?.definition.clock === 'now' ? looked.now : looked.at
  }

  /** An alarm that is judged no more (its configuration changed) ends, and says so if it was told. */
  function closeUnwatched(state: JudgeState, touched: Map<Entry, Step>, at: Ms): void {
    for (const entry of state.entries) {
      if (byId.has(entry.id)) continue
      entry.delay.active = false
      entry.delay.holdingSince = null
      if (entry.state !== 'normal') touched.set(entry, { changed: true, worsened: false })
      entry.state = 'normal'
      entry.because = 'not-judged-any-more'
      entry.latch = false
      if (entry.occurrence !== null) entry.occurrence.cleared ??= at
    }
  }

  function regroup(entry: Entry, state: JudgeState, touched: Map<Entry, Step>, looked: View): void {
    if (!byId.has(entry.id) || !stands(entry)) return
    const at = timeOf(entry, looked)
    const known = state.entries.find((one) => one.key === entry.explainedBy)
    if (known !== undefined && explains(known, entry, table, at)) return
    const cause = findCause(entry, state.entries, table, at)
    const key = cause?.key ?? null
    if (key === entry.explainedBy) return
    entry.explainedBy = key
    entry.because = key === null ? 'cause-gone' : 'explained'
    if (!touched.has(entry)) touched.set(entry, { changed: true, worsened: false })
  }

  function told(entry: Entry, state: JudgeState, worsened: boolean, at: Ms, now: Ms): Notice | null {
    if (worsened && entry.told !== null && entry.explainedBy === null && entry.state === 'unacknowledged') {
      return note(entry, 'worsened', at)
    }
    const reason = noticeOfRaise(entry, at, now)
    if (reason !== null) return note(entry, reason, at)
    if (entry.told === null || stands(entry)) return null
    const cause = state.entries.find((one) => one.key === entry.explainedBy)
    if (cause !== undefined && cause.told !== null) {
      // The all-clear of its cause speaks for it.
      entry.told = null
      return null
    }
    const consequences = state.entries.some((one) => one.explainedBy === entry.key && stands(one))
    return isAllClearDue(entry, consequences, at) ? note(entry, 'cleared', at) : null
  }

  return {
    initial: initialState,
    restore: restoreState,
    step,
    acknowledge: acts.acknowledge,
    shelve: acts.shelve,
    unshelve: acts.unshelve,
    removeFromService: acts.removeFromService,
    returnToService: acts.returnToService,
    active,
  }
}

function anyHolds(verdicts: readonly Verdict[]): boolean {
  for (const verdict of verdicts) {
    if (verdict.holds === true) return true
  }
  return false
}

function active(state: JudgeState): readonly Alarm[] {
  return state.entries
    .filter(acts.isListed)
    .flatMap((entry) => rowOf(entry) ?? [])
    .sort((a, b) => PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) || a.raised - b.raised)
}

/** Which board sends which signal, so that a silent board explains its own signals only. */
function boardsOf(site: SiteSettings): Table['boardOf'] {
  const known = new Map<string, string>()
  for (const board of site.boards) {
    known.set(board.id, board.id)
    for (const signal of board.signals) known.set(signal.key, board.id)
  }
  return (subject) => known.get(subject) ?? null
}
