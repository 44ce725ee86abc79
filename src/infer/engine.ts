/**
 * The site engine: readings in, in order of their own time; fills, days and facts out. A machine without clock, disk or
 * chance: due looks always run before the next reading, so a timer that fires late, or never, changes nothing.
 */
import type { Facts } from '../model/facts.js'
import type { EnergyHour } from '../model/facts-balance.js'
import type { Day, FillCycle } from '../model/fill.js'
import { LIMITS } from '../model/limits.js'
import type { SignalKey } from '../model/roles.js'
import type { SiteSettings } from '../model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../model/time.js'
import { account } from './account.js'
import { forgetLines } from './cold/lines.js'
import { addFill, dayAt, toDay } from './days.js'
import { closeHour } from './energy/balance.js'
import { forgetSlowWell, takeEnd } from './episode/slow-well.js'
import { createEvidence } from './evidence/state.js'
import { learnPower } from './evidence/look.js'
import { FINISH_AFTER_MS, finish, learnFrom } from './fill.js'
import { rebaseScreen } from './screen.js'
import { rebaseHouse } from './house/usual.js'
import { type IntakeCalls, take } from './intake.js'
import { emptyFacts, look } from './look.js'
import { rebaseLoss, takeFillLoss } from './loss/look.js'
import { createPlan, type SitePlan } from './plan.js'
import { rebasePower } from './power/look.js'
import { abandonRun } from './pump.js'
import { type EngineState, initialState, nothingUsual, type Run } from './state.js'
import { createWell, noteCapacity } from './well/well.js'
import { createTrend } from './trend/state.js'
import { takeFill } from './trend/take-fill.js'

/** What the engine says. The shell stores, judges and shows it; the engine does not care which. */
export type EngineEffects = {
  fill(cycle: FillCycle): void
  /** The latest figures of a day; a later one for the same date replaces it. */
  day(day: Day): void
  /** The balance of energy of one whole hour, once it is over. */
  energy(hour: EnergyHour): void
  look(facts: Facts): void
  /** On the hour: the state holds every reading before `at` and none after, and may be stored. */
  hour(at: Ms): void
  /** A reading set aside by the step gate. */
  tooFast(signal: number, t: Ms, value: number): void
}

export type Engine = {
  readonly site: SiteSettings
  readonly plan: SitePlan
  /** Signal keys by index; readings name signals by this index. */
  readonly signals: readonly SignalKey[]
  initial(): EngineState
  /** Takes a reading (NaN: its sensor has failed). Readings must come in order of (t, signal). */
  feed(state: EngineState, signal: number, t: Ms, value: number, effects: EngineEffects): void
  /** Runs every look due at or before `t`. */
  advance(state: EngineState, t: Ms, effects: EngineEffects): void
  /** Puts aside what was learned: a new pump or a moved sensor makes the old figures no guide. */
  rebase(state: EngineState, at: Ms): void
  /** Hands over every day not yet handed over, as at the end of a replay. */
  flush(state: EngineState, effects: EngineEffects): void
  /** The state as text, and back. Throws when the text is not a state of this site's shape. */
  serialise(state: EngineState): string
  restore(text: string): EngineState
}

const QUIET_MS = DAY

export function createEngine(site: SiteSettings): Engine {
  const plan = createPlan(site)
  const facts = emptyFacts(site)
  const signals = plan.signals.map((signal) => signal.key)
  const calls = intakeCalls(plan)
  const basis = basisOf(site, signals)
  const initial = (): EngineState => initialState(site.boards.length, signals.length, site.lines.length)
  return {
    site,
    plan,
    signals,
    initial,
    feed(state, signal, t, value, effects) {
      if (state.nextLook === 0) state.nextLook = nextGrid(t)
      if (t >= state.nextLook) advance(plan, state, facts, t, effects)
      state.at = t
      if (state.nextLook - t > LIMITS.tickMs) state.nextLook = nextGrid(t)
      calls.state = state
      calls.effects = effects
      take(plan, state, signal, t, value, calls)
    },
    advance(state, t, effects) {
      if (state.nextLook !== 0 && t >= state.nextLook) advance(plan, state, facts, t, effects)
      if (t > state.at) state.at = t
    },
    rebase(state, at) {
      state.usual = nothingUsual()
      state.completeFills = 0
      state.lastWhPerL = []
      rebaseHouse(state.house)
      for (const screen of state.screens) rebaseScreen(screen)
      state.rebasedAt = at
      forgetLines(state.lines)
      state.evidence = createEvidence()
      state.trend = createTrend()
      forgetSlowWell(state)
      state.well = createWell()
      rebasePower(state)
      rebaseLoss(state)
    },
    flush(state, effects) {
      emitDays(plan, state, effects)
    },
    serialise: (state) => JSON.stringify({ basis, state }),
    restore: (text) => restore(text, basis, initial()),
  }
}

/** One record for every reading, so that taking one allocates nothing. */
function intakeCalls(plan: SitePlan): IntakeCalls & { state: EngineState | null; effects: EngineEffects | null } {
  return {
    state: null,
    effects: null,
    close(run) {
      if (this.state !== null && this.effects !== null) close(plan, this.state, run, this.effects)
    },
    tooFast(signal, t, value) {
      this.effects?.tooFast(signal, t, value)
    },
  }
}

function nextGrid(t: Ms): Ms {
  return t - (t % LIMITS.tickMs) + LIMITS.tickMs
}

/** What a state rests on: made for other signals, another tank, battery or calendar, it would mix two accounts. */
function basisOf(site: SiteSettings, signals: readonly SignalKey[]): string {
  const lines = site.lines.map((line) => [line.name, line.kind, line.temperatureKey])
  const sun = [site.latitudeDeg, site.longitudeDeg, site.array, site.battery]
  return JSON.stringify([signals, site.boards.length, site.tank, site.timezone, lines, sun])
}

function restore(text: string, basis: string, shape: EngineState): EngineState {
  const kept = JSON.parse(text) as { basis: string; state: EngineState }
  const { state } = kept
  if (state.version !== shape.version) {
    throw new Error(`engine state: found version ${state.version}, expected ${shape.version}`)
  }
  if (kept.basis !== basis || !sameShape(state, shape)) {
    throw new Error(
      'engine state: made for another configuration (signals, tank, time zone or lines) or another version',
    )
  }
  for (const day of state.days) day.dirty = true
  return state
}

/** Whether a stored state has the members that this program's state has; of those that may be null only the name counts. */
function sameShape(found: object, expected: object): boolean {
  const names = Object.keys(expected)
  if (names.length !== Object.keys(found).length) return false
  return names.every((name) => {
    const ours: unknown = expected[name as keyof typeof expected]
    const theirs: unknown = found[name as keyof typeof found]
    if (theirs === undefined) return false
    const plain = typeof ours === 'object' && ours !== null && !Array.isArray(ours) && name !== 'suspects'
    return !plain || (typeof theirs === 'object' && theirs !== null && sameShape(theirs, ours))
  })
}

function advance(plan: SitePlan, state: EngineState, facts: Facts, t: Ms, effects: EngineEffects): void {
  while (state.nextLook <= t) {
    const at = state.nextLook
    state.at = at
    lookOnce(plan, state, facts, at, effects)
    const quiet = state.lastHeard !== null && at - state.lastHeard > QUIET_MS
    state.nextLook = quiet ? at - (at % HOUR) + HOUR : at + LIMITS.tickMs
  }
}

function lookOnce(plan: SitePlan, state: EngineState, facts: Facts, at: Ms, effects: EngineEffects): void {
  const { run } = state.pump
  if (run !== null) {
    if (run.end === null && at - state.pump.lastT > lostAfterMs(plan)) abandonRun(state, run)
    if (run.end !== null && at - run.end >= FINISH_AFTER_MS) close(plan, state, run, effects)
  }
  if (at % HOUR === 0) closeHour(plan, state, at, effects.energy)
  look(plan, state, at, facts)
  lookAtDay(plan, state, at, facts)
  effects.look(facts)
  if (at % HOUR === 0) {
    emitDays(plan, state, effects)
    effects.hour(at)
  }
}

/** A run whose current is not heard of for so long is closed where it was last seen. */
function lostAfterMs(plan: SitePlan): number {
  const signal = plan.index['pump-current']
  return Math.max(5 * MINUTE, 2 * (signal === undefined ? 0 : (plan.signals[signal]?.staleMs ?? 0)))
}

function lookAtDay(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const previous = state.lastLook
  state.lastLook = at
  const day = dayAt(plan, state, at)
  const volume = facts.water.reckoned ? null : facts.water.volumeL
  if (day.volumeStart === null && at - day.start <= 5 * MINUTE) day.volumeStart = volume
  day.volumeEnd = volume
  const waterKnown = plan.index['tank-level'] !== undefined ? facts.water.levelM !== null : facts.water.highWet !== null
  if (previous !== 0 && facts.pump.known && facts.battery.voltageV !== null && waterKnown) {
    day.coveredMs += Math.min(at - previous, at - day.start)
  }
  day.dirty = true
}

function emitDays(plan: SitePlan, state: EngineState, effects: EngineEffects): void {
  for (const day of state.days) {
    // A day that has begun without a word from the place is no day yet.
    const silent = state.lastHeard !== null && day.start > state.lastHeard && state.at < day.end
    if (!day.dirty || silent) continue
    day.dirty = false
    effects.day(toDay(plan, day))
  }
}

/** Writes a run that has ended as a fill, learns from it, and takes it into the accounts. */
function close(plan: SitePlan, state: EngineState, run: Run, effects: EngineEffects): void {
  const { cycle, drawL } = finish(plan, state, run)
  const { pump } = state
  pump.lastEnd = cycle.endReason
  if (cycle.endReason === 'dry') pump.restingUntil = cycle.end + plan.site.well.restAfterDryS * 1000
  addFill(plan, state, cycle)
  account(plan, state, run, cycle, drawL)
  learnFrom(state, run, cycle)
  learnPower(state, run, cycle)
  noteCapacity(state, run.start, cycle.flowLMin?.value ?? null)
  takeFill(plan, state, run, cycle)
  takeEnd(plan, state, run, cycle)
  takeFillLoss(plan, state, run, cycle)
  pump.run = null
  effects.fill(cycle)
}
