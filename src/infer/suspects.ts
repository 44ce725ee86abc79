/** Signals that contradict each other or physics: which, how, since when, and the number that shows it. */
import type { SuspectFacts, SuspectKind } from '../model/facts.js'
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import { resetsAtStart, restartsOften } from './boards/gaps.js'
import { stuckVoltsSince } from './boards/odd.js'
import { electricSlip, slipWords } from './boards/units.js'
import { contradictingSince } from './contradiction.js'
import { expectedFlowLMin } from './water.js'
import { levelNoiseM } from './delivered.js'
import { efficiency } from './fill.js'
import type { SitePlan } from './plan.js'
import type { EngineState, FailState } from './state.js'

const FAILS_KEPT = 20
/** Half of the last readings failed, over at least ten minutes. */
const FAIL_SHARE = 0.5
const FAIL_LEAST = 4
/** More than this is no machine of this kind: a sensor or the configuration is wrong (common practice: 20–45 %). */
const EFFICIENCY_MAX = 0.6
const STUCK_LEAST = 8

/** Notes whether a reading was a failure of its sensor (NaN). */
export function noteReading(fail: FailState, t: Ms, bad: boolean): void {
  if (!bad && fail.bad.length === 0) return
  fail.t.push(t)
  fail.bad.push(bad ? 1 : 0)
  if (fail.t.length > FAILS_KEPT) {
    fail.t.shift()
    fail.bad.shift()
  }
  if (!bad && !fail.bad.includes(1)) {
    fail.t.length = 0
    fail.bad.length = 0
  }
}

/** Lists what is doubted at a look into `out`. */
export function lookAtSuspects(plan: SitePlan, state: EngineState, at: Ms, out: SuspectFacts[]): void {
  out.length = 0
  const seen = new Set<string>()
  const doubt: Doubt = (kind, key, since, figure, likely) => {
    const id = `${kind} ${key}`
    seen.add(id)
    const first = state.suspects[id] ?? since
    state.suspects[id] = first
    out.push({ key, kind, since: first, figure, ...(likely === undefined ? {} : { likely }) })
  }
  contradictions(state, at, doubt)
  failures(plan, state, at, doubt)
  stuckLevel(plan, state, at, doubt)
  unseenFill(plan, state, at, doubt)
  impossible(plan, state, at, doubt)
  missing(plan, state, at, doubt)
  boardsAnew(plan, state, at, doubt)
  controlChatter(state, at, doubt)
  for (const id of Object.keys(state.suspects)) if (!seen.has(id)) delete state.suspects[id]
}

type Doubt = (kind: SuspectKind, key: string, since: Ms, figure: number, likely?: string) => void

function contradictions(state: EngineState, at: Ms, doubt: Doubt): void {
  const { high, full } = state.water
  const since = contradictingSince(state.water, at)
  if (since !== null) doubt('probes-contradict', 'tank-probe-low', since, (at - since) / MINUTE)
  if (full.seen && high.seen && !high.wet && full.wet)
    doubt('probes-contradict', 'tank-probe-high', Math.max(high.since, full.since), 1)
}

function failures(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  for (let i = 0; i < state.fails.length; i += 1) {
    const fail = state.fails[i]
    const signal = plan.signals[i]
    const screen = state.screens[i]
    if (fail === undefined || signal === undefined || screen === undefined) continue
    if (fail.bad.length >= FAIL_LEAST) {
      const bad = fail.bad.reduce((sum, one) => sum + one, 0)
      const first = fail.t[0] ?? at
      if (bad / fail.bad.length >= FAIL_SHARE && at - (fail.t.at(-1) ?? 0) < signal.staleMs) {
        const likely = slippedElectric(plan, state, i)
        if (likely === null) doubt('failed-values', signal.key, first, bad / fail.bad.length)
        else doubt('unit', signal.key, first, bad / fail.bad.length, likely)
      }
    }
    if (screen.slip >= 0) doubt('unit', signal.key, screen.slipSince, 1, slipWords(signal.spec, screen.slip))
    else if (screen.refused >= 5 && at - screen.refusedAt < 10 * MINUTE)
      doubt('too-fast', signal.key, screen.refusedAt, screen.refused)
    else if (at - screen.refusedAt >= HOUR) screen.refused = 0
  }
  for (const [key, contact] of [
    ['tank-probe-low', state.water.low],
    ['tank-probe-high', state.water.high],
    ['tank-probe-full', state.water.full],
  ] as const) {
    // Ripples at a mark on which the water rests switch a probe for hours; while the pump lifts it past, they must not.
    const { run } = state.pump
    if (run === null || run.end !== null || at - run.start < 15 * MINUTE) continue
    const recent = contact.changes.filter((t) => at - t < 10 * MINUTE)
    if (recent.length >= 20) doubt('contact-chatter', key, recent[0] ?? at, recent.length / 10)
  }
}

/** The level has not moved by a digit while the pump should have raised it by many times its noise. */
function stuckLevel(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  const signal = plan.index['tank-level']
  const { run } = state.pump
  const { water } = state
  if (signal === undefined || water.sameCount < STUCK_LEAST || at - water.lastT > (plan.signals[signal]?.staleMs ?? 0))
    return
  const flow = expectedFlowLMin(plan, state)
  if (run !== null && run.end === null && flow !== null) {
    const from = Math.max(water.sameSince, run.start + 2 * MINUTE)
    const expectedM = (flow * (at - from)) / MINUTE / Math.max(1, plan.areaLM)
    if (expectedM > Math.max(0.02, 10 * levelNoiseM(plan, state)))
      doubt('stuck', 'tank-level', water.sameSince, expectedM * plan.areaLM)
    return
  }
  const held = state.suspects['stuck tank-level']
  if (held !== undefined) doubt('stuck', 'tank-level', held, 0)
  else if (at - water.sameSince > 12 * HOUR && water.noiseVar > 1e-8) doubt('stuck', 'tank-level', water.sameSince, 0)
}

/** The control switches the pump to and fro, as its current shows. */
function controlChatter(state: EngineState, at: Ms, doubt: Doubt): void {
  const { since, flips } = state.episode.chatter
  if (since === null) return
  const recent = flips.filter((t) => at - t <= 3 * MINUTE).length
  doubt('control-chatter', 'pump-current', since, recent / 3)
}

/** The tank rises like in a fill while the current sensor shows a pump at rest. Rain or a second source look alike. */
const UNSEEN_LEAST_MS = 8 * MINUTE

function unseenFill(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  const { pump, water } = state
  const signal = plan.index['pump-current']
  if (signal === undefined || !pump.seen || at - pump.lastT > (plan.signals[signal]?.staleMs ?? 0)) return
  if (pump.run === null && water.unseenFillAt === null) noteRise(plan, state, at)
  if (water.unseenFillAt === null) return
  const litres = ((expectedFlowLMin(plan, state) ?? 0) * Math.min(at - water.unseenFillAt, HOUR)) / MINUTE
  doubt('stuck', 'pump-current', water.unseenFillAt, litres)
}

function noteRise(plan: SitePlan, state: EngineState, at: Ms): void {
  const flow = expectedFlowLMin(plan, state)
  const { t, v } = state.water.levels
  const first = t[0]
  const last = t.at(-1)
  if (
    flow === null ||
    first === undefined ||
    last === undefined ||
    last - first < UNSEEN_LEAST_MS ||
    at - last > 2 * MINUTE
  )
    return
  const n = Math.min(FEW, Math.max(1, Math.floor(v.length / 4)))
  const begun = meanOf(v, 0, n)
  const risenL = (meanOf(v, v.length - n, n) - begun) * plan.areaLM
  const middleL = (meanOf(v, Math.floor((v.length - n) / 2), n) - begun) * plan.areaLM
  // Means of a few lie so much nearer together than the readings' ends.
  const expectedL = (flow * (last - first) * (1 - n / v.length)) / MINUTE
  const scatterL = (3 * Math.SQRT2 * levelNoiseM(plan, state) * plan.areaLM) / Math.sqrt(n)
  const steady = middleL > 0.25 * risenL && middleL < 0.75 * risenL
  const lately = state.pump.lastEndAt === null || first > state.pump.lastEndAt
  if (lately && steady && risenL > Math.max(0.6 * expectedL, scatterL)) state.water.unseenFillAt = first
}

/** Readings averaged at each end and in the middle: a coarse sensor's single ones scatter like a fill. */
const FEW = 12

function meanOf(v: readonly number[], from: number, n: number): number {
  let sum = 0
  for (let i = from; i < from + n; i += 1) sum += v[i] ?? 0
  return sum / n
}

function impossible(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  const seen = efficiency(plan, state)
  if (seen !== null && seen > EFFICIENCY_MAX)
    doubt('not-possible', plan.index['pump-current'] === undefined ? 'tank-level' : 'pump-current', at, seen)
}

function boardsAnew(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  for (let i = 0; i < state.boardTroubles.boards.length; i += 1) {
    const board = state.boardTroubles.boards[i]
    const id = plan.site.boards[i]?.id
    if (board === undefined || id === undefined) continue
    const atStart = resetsAtStart(board)
    if (atStart !== null) doubt('resets-at-start', id, atStart.since, atStart.count)
    const often = atStart === null ? restartsOften(board, at) : null
    if (often !== null) doubt('restarts', id, often.since, often.count)
  }
  const stuck = stuckVoltsSince(state, at)
  const signal = plan.index['battery-voltage']
  if (stuck !== null && signal !== undefined) doubt('stuck', plan.signals[signal]?.key ?? '', stuck, 0)
}

function slippedElectric(plan: SitePlan, state: EngineState, index: number): string | null {
  const { oddVolts, oddAmps } = state.boardTroubles
  const odd = index === plan.index['battery-voltage'] ? oddVolts : index === plan.index['pump-current'] ? oddAmps : null
  return odd === null ? null : electricSlip(odd)
}

/** A signal of the least set has stopped though its board still talks. */
function missing(plan: SitePlan, state: EngineState, at: Ms, doubt: Doubt): void {
  for (const role of ['tank-level', 'tank-probe-low', 'tank-probe-high', 'pump-current', 'battery-voltage'] as const) {
    const i = plan.index[role]
    const signal = i === undefined ? undefined : plan.signals[i]
    if (i === undefined || signal === undefined) continue
    const heard = state.heard[i] ?? null
    const board = state.boards[signal.board] ?? null
    if (heard === null || board === null) continue
    const wait = Math.max(15 * MINUTE, signal.staleMs)
    if (at - heard > wait && at - board < signal.staleMs) doubt('missing', signal.key, heard, (at - heard) / MINUTE)
  }
}
