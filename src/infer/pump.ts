/** Whether the pump runs: current against a learned zero, with hysteresis; edges between samples; drop-outs merged. */
import type { Ms } from '../model/time.js'
import { MINUTE, SECOND } from '../model/time.js'
import { addCurrent, beginEnergy, settleEnergy } from './energy.js'
import { CHATTER_STOP_MS, chatters } from './episode/chatter.js'
import { add as addMinute } from './minutes.js'
import type { SitePlan } from './plan.js'
import { levelAtEnd } from './level-at.js'
import { between, pointsBetween, remember } from './ring.js'
import type { EngineState, Run } from './state.js'
import { median } from './stats.js'
import { usual } from './usual.js'

/** Without a rating or a learned current, this much is a running pump. */
const FIRST_THRESHOLD_A = 0.4
const LEAST_THRESHOLD_A = 0.15
/** A run has ended below this share of the threshold: near it, since a dry pump still draws far more than a shifted zero. */
const OFF_SHARE = 0.9
/** The zero of a Hall sensor drifts over hours with temperature; it is followed with this time constant. */
const ZERO_TAU_S = 1200
/** A stop is sure after this many samples or this long; shorter drop-outs are bridged. */
const STOP_SAMPLES = 3
const STOP_MS = 45 * SECOND
const CURRENTS_KEPT = 120
const LIGHT = 0.8
const HEAVY = 2
const SHORT_RUN_MS = 20 * SECOND

/** The current that this pump usually draws: learned, else the rating, else null. */
export function usualCurrent(plan: SitePlan, state: EngineState): number | null {
  return usual(state.usual.currentA)?.value ?? plan.site.pump.runningCurrentA
}

/**
 * Usual current at the voltage now. A displacement pump's current hardly follows the voltage; a centrifugal one's falls
 * with it. Only a clear sag lowers the expectation, so that a weak battery is not taken for a dry well.
 */
export function usualCurrentHere(plan: SitePlan, state: EngineState): number | null {
  const here = usualCurrent(plan, state) ?? state.pump.run?.runA ?? null
  const v = state.battery.volts.v.at(-1)
  const usualV = usual(state.usual.voltageV)?.value
  if (here === null || v === undefined || usualV === undefined) return here
  const ratio = v / usualV
  return ratio < 0.93 ? here * ratio ** 1.5 : here
}

/** Seconds after the start in which light current means a filling pipe, not a dry well. */
export function startWindowS(state: EngineState): number {
  const learned = usual(state.usual.startWindowS, 3)
  if (learned === null) return 240
  return Math.min(720, Math.max(25, learned.value * 1.5 + 20))
}

function thresholdA(plan: SitePlan, state: EngineState): number {
  const expected = usualCurrent(plan, state)
  return expected === null ? FIRST_THRESHOLD_A : Math.max(LEAST_THRESHOLD_A, 0.25 * expected)
}

/** Whether a raw current shows a running pump. */
export function wouldStart(plan: SitePlan, state: EngineState, raw: number): boolean {
  return raw - state.pump.zeroA > thresholdA(plan, state)
}

/** Takes one current sample, A as the sensor gives it. A run that has ended must have been closed before the next begins. */
export function takeCurrent(plan: SitePlan, state: EngineState, t: Ms, raw: number): void {
  const pump = state.pump
  const net = raw - pump.zeroA
  const on = thresholdA(plan, state)
  const { run } = pump
  remember(pump.recent, t, net)
  if (run !== null && run.end === null) runningSample(plan, state, run, t, net, on)
  else if (net > on) beginRun(plan, state, t, net)
  else restingSample(state, t, raw, net, on)
  pump.lastT = t
  pump.lastA = net
  pump.seen = true
}

function restingSample(state: EngineState, t: Ms, raw: number, net: number, on: number): void {
  const pump = state.pump
  if (pump.seen && Math.abs(net) < OFF_SHARE * on) {
    const share = 1 - Math.exp(-(t - pump.lastT) / 1000 / ZERO_TAU_S)
    const zero = pump.zeroA + share * (raw - pump.zeroA)
    pump.zeroA = Math.max(-1, Math.min(1, zero))
  }
  pump.lastOffT = t
  pump.lastOffA = net
}

function beginRun(plan: SitePlan, state: EngineState, t: Ms, net: number): void {
  const pump = state.pump
  const gap = signalGapMs(plan)
  const lastOff = pump.lastOffT
  const startKnown = lastOff !== null && t - lastOff <= gap
  const before = startKnown && lastOff !== null ? lastOff : t
  const { low } = state.water
  state.water.unseenFillAt = null
  const before7 = pointsBetween(state.water.levels, t - 5 * MINUTE, t, 7)
  pump.run = {
    start: Math.round((before + t) / 2),
    startSdS: (t - before) / 1000 / Math.sqrt(12),
    startKnown,
    firstOn: t,
    lastOn: t,
    offAt: null,
    offCount: 0,
    end: null,
    endSdS: 0,
    endKnown: true,
    energy: beginEnergy(before, startKnown ? pump.lastOffA : net, t, net),
    currents: [],
    every: 1,
    skip: 0,
    runA: null,
    runAAt: 0,
    reachedAt: null,
    lightSince: null,
    lightCount: 0,
    heavySince: null,
    heavyCount: 0,
    settledCount: 0,
    lightFromStart: false,
    peakA: net,
    vSum: 0,
    vN: 0,
    vMin: 0,
    startLevelM: before7.t.length >= 2 ? levelAtEnd(before7.t, before7.v, t) : null,
    startReadings: before7.t.length,
    minuteT: [],
    minuteV: [],
    openT: 0,
    openSum: 0,
    openN: 0,
    arrivedAt: null,
    firstRiseS: null,
    rateLMin: null,
    rateSdLMin: null,
    rateAt: 0,
    highWetAt: null,
    lowDryAtStart: low.seen && (!low.wet || t - low.lastDry < 2 * MINUTE),
    lowLastWet: low.lastWet > 0 ? low.lastWet : null,
    meterStart: state.meterRaw !== null && t - state.meterT < 10 * MINUTE ? state.meterL : null,
    flowL: state.flowLs !== null && t - state.flowT < 2 * MINUTE ? 0 : null,
  }
  pump.starts.push(t)
  while (pump.starts.length > 0 && (t - (pump.starts[0] ?? t) > 10 * MINUTE || pump.starts.length > 64))
    pump.starts.shift()
  judgeCurrent(plan, state, pump.run, t, net)
}

function runningSample(plan: SitePlan, state: EngineState, run: Run, t: Ms, net: number, on: number): void {
  const gap = signalGapMs(plan)
  if (net > OFF_SHARE * on) {
    run.lastOn = t
    run.offAt = null
    run.offCount = 0
    addCurrent(run.energy, t, net, gap)
    settleEnergy(run.energy, state.battery.volts, gap, false)
    if (net > run.peakA) run.peakA = net
    judgeCurrent(plan, state, run, t, net)
    return
  }
  if (run.offAt === null) {
    run.offAt = t
    addCurrent(run.energy, t, Math.max(0, net), gap)
    noteHeavyTry(plan, state, run, t)
  }
  run.offCount += 1
  state.pump.lastOffT = t
  state.pump.lastOffA = net
  const sure = chatters(state)
    ? t - run.offAt >= CHATTER_STOP_MS
    : run.offCount >= STOP_SAMPLES || t - run.offAt >= STOP_MS
  if (sure) endRun(state, run)
}

/** The spells of light and heavy current, and the median of what lies inside the band. */
function judgeCurrent(plan: SitePlan, state: EngineState, run: Run, t: Ms, net: number): void {
  const expected = usualCurrentHere(plan, state)
  if (expected !== null && run.reachedAt === null && net >= 0.9 * expected) run.reachedAt = t
  const settled = t - run.firstOn >= startWindowS(state) * 1000
  // A sagging battery lowers what light means, never what heavy means.
  const full = usualCurrent(plan, state) ?? expected
  if (full !== null && net > HEAVY * full) {
    if (run.heavySince === null) run.heavySince = t
    run.heavyCount += 1
  } else {
    run.heavySince = null
    run.heavyCount = 0
  }
  if (!settled) return
  const light = expected !== null && net < LIGHT * expected
  if (light && run.settledCount === 0) run.lightFromStart = true
  run.settledCount += 1
  if (light) {
    if (run.lightSince === null) run.lightSince = t
    run.lightCount += 1
    return
  }
  run.lightSince = null
  run.lightCount = 0
  if (full === null || net < HEAVY * full) keepCurrent(run, net)
}

function keepCurrent(run: Run, net: number): void {
  run.skip += 1
  if (run.skip < run.every) return
  run.skip = 0
  run.currents.push(net)
  if (run.currents.length < CURRENTS_KEPT) return
  run.currents = run.currents.filter((_, i) => i % 2 === 0)
  run.every *= 2
}

/** Median of the run's own settled current, looked at no more than once a minute. */
export function refreshRunCurrent(run: Run, at: Ms): void {
  if (run.currents.length < 5 || at - run.runAAt < MINUTE) return
  run.runA = median(run.currents)
  run.runAAt = at
}

function endRun(state: EngineState, run: Run): void {
  const pump = state.pump
  const off = run.offAt ?? run.lastOn
  run.end = Math.round((run.lastOn + off) / 2)
  run.endSdS = (off - run.lastOn) / 1000 / Math.sqrt(12)
  closeMinute(run)
  pump.lastEndAt = run.end
  // Why it ended is known when the fill is written; until then the word of the run before must not stand.
  pump.lastEnd = null
  const last = between(pump.recent, run.lastOn - MINUTE, run.lastOn)
  pump.lastEndA = last.length > 0 ? median(last) : null
}

/** A start with heavy current that is over within seconds: a protector has tripped, or a fuse has blown. */
function noteHeavyTry(plan: SitePlan, state: EngineState, run: Run, t: Ms): void {
  const { heavyTries } = state.pump
  const expected = usualCurrent(plan, state)
  if (expected === null || run.peakA <= HEAVY * expected || t - run.start >= SHORT_RUN_MS) return
  heavyTries.push(t)
  if (heavyTries.length > 32) heavyTries.shift()
}

/** The current signal has stopped coming in mid-run: the run is closed where it was last seen, its end unknown. */
export function abandonRun(state: EngineState, run: Run): void {
  run.end = run.lastOn
  run.endKnown = false
  run.energy.known = false
  closeMinute(run)
  state.pump.lastEndAt = run.end
  state.pump.lastEnd = null
  state.pump.lastEndA = state.pump.lastA
  state.pump.lastOffT = null
}

export function signalGapMs(plan: SitePlan): number {
  const at = plan.index['pump-current']
  return at === undefined ? 90 * SECOND : (plan.signals[at]?.gapMs ?? 90 * SECOND)
}

/** A volume during the run, litres: gathered into one-minute means. */
export function takeRunVolume(run: Run, t: Ms, volumeL: number): void {
  if (run.end === null) addMinute(run, t, volumeL)
}

function closeMinute(run: Run): void {
  if (run.openN >= 2) {
    run.minuteT.push(run.openT + MINUTE / 2)
    run.minuteV.push(run.openSum / run.openN)
  }
  run.openN = 0
}
