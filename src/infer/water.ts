/** The tank as the sensors show it: level and its noise, probes, marks, and whether water arrives while the pump runs. */
import type { Usual } from '../model/facts.js'
import { MINUTE, type Ms, SECOND } from '../model/time.js'
import { contradictingSince } from './contradiction.js'
import { levelNoiseM, usualDrawLH } from './delivered.js'
import { fullLevelM } from './ending.js'
import { wanderM } from './loss/drift.js'
import type { SitePlan } from './plan.js'
import { startWindowS, takeRunVolume, usualCurrent } from './pump.js'
import { between, remember } from './ring.js'
import type { ContactState, EngineState, Run, WaterState } from './state.js'
import { fitLine, median } from './stats.js'
import { volumeAt } from './tank.js'
import { usual } from './usual.js'

const NOISE_SHARE = 0.02
/** Wet for this long ends a dry spell; shorter is a wave. */
const SPELL_MS = MINUTE
const CHANGES_KEPT = 64

export function takeLevel(plan: SitePlan, state: EngineState, t: Ms, levelM: number): void {
  const water = state.water
  const { levels } = water
  const previous = levels.v.at(-1)
  const dt = t - water.lastT
  if (previous !== undefined && dt > 0 && dt <= 90 * SECOND) {
    water.periodS += 0.05 * (dt / 1000 - water.periodS)
    if (state.pump.run === null) followNoise(plan, water, levelM - previous)
  }
  smoothAtRest(state, levelM, dt)
  if (water.sameCount > 0 && levelM === water.sameValue) water.sameCount += 1
  else {
    water.sameCount = 1
    water.sameSince = t
    water.sameValue = levelM
  }
  water.lastT = t
  remember(levels, t, levelM)
  const { run } = state.pump
  const tank = plan.site.tank
  if (run !== null && run.end === null && tank !== null) takeRunVolume(run, t, volumeAt(tank.shape, levelM))
}

/** Minutes over which the level at rest is smoothed: readings scatter by millimetres, and the low mark is a matter of them. */
const REST_TAU_MS = 5 * MINUTE

function smoothAtRest(state: EngineState, levelM: number, dt: Ms): void {
  const { water, pump } = state
  if (pump.run !== null && pump.run.end === null) water.restLevelM = null
  else if (water.restLevelM === null || dt > 3 * REST_TAU_MS) water.restLevelM = levelM
  else water.restLevelM += (1 - Math.exp(-dt / REST_TAU_MS)) * (levelM - water.restLevelM)
}

/** Half the mean square of successive differences is the variance of one reading; large steps are draws, not noise. */
function followNoise(plan: SitePlan, water: WaterState, difference: number): void {
  const now = water.noiseN >= 30 ? water.noiseVar : plan.levelSdM ** 2
  const square = Math.min((difference * difference) / 2, 9 * now)
  const share = water.noiseN < 30 ? 1 / (water.noiseN + 1) : NOISE_SHARE
  water.noiseVar += share * (square - water.noiseVar)
  water.noiseN += 1
}

export function takeContact(contact: ContactState, t: Ms, wet: boolean): void {
  if (!contact.seen || wet !== contact.wet) {
    if (contact.seen) {
      contact.changes.push(t)
      if (contact.changes.length > CHANGES_KEPT) contact.changes.shift()
    }
    contact.seen = true
    contact.wet = wet
    contact.since = t
  }
  contact.lastT = t
  if (wet) {
    contact.lastWet = t
    if (t - contact.since >= SPELL_MS) contact.drySince = null
  } else {
    contact.lastDry = t
    if (contact.drySince === null) contact.drySince = t
  }
}

/** Median level of the last minute (of the newest reading, for slow sensors); null when stale. */
export function recentLevelM(plan: SitePlan, state: EngineState, at: Ms): number | null {
  const signal = plan.index['tank-level']
  if (signal === undefined) return null
  const { levels } = state.water
  const newest = levels.t.at(-1)
  if (newest === undefined || at - newest > (plan.signals[signal]?.staleMs ?? 0)) return null
  const recent = between(levels, Math.min(newest, at - MINUTE), at)
  return recent.length > 0 ? median(recent) : null
}

/** Works out the marks at a look: called for, at the high mark, past the overflow level. */
export function lookAtMarks(plan: SitePlan, state: EngineState, at: Ms, levelM: number | null): void {
  const water = state.water
  const running = state.pump.run !== null && state.pump.run.end === null
  water.calledSince = running ? null : called(plan, state, at, levelM)
  water.atHighSince = running ? since(water.atHighSince, atHigh(plan, state, levelM), at, water.high) : null
  water.pastFullSince = since(water.pastFullSince, pastFull(plan, state, levelM), at, water.full)
}

function since(was: Ms | null, is: boolean | null, at: Ms, contact: ContactState): Ms | null {
  if (is === null) return was
  if (!is) return null
  return was ?? (contact.seen && contact.wet ? Math.min(at, contact.since) : at)
}

/**
 * How far below its usual start the level must be for a pump to be called for. A start is seen in a few readings while
 * somebody draws: it reads too high by most of their noise, and readings of whole millimetres may hide their scatter.
 */
function startDoubtM({ sd, fills }: Usual, noiseM: number): number {
  return 0.0015 + 0.75 * noiseM + (2.5 * Math.max(sd, 0.5 * noiseM)) / Math.sqrt(fills)
}

function called(plan: SitePlan, state: EngineState, at: Ms, levelM: number | null): Ms | null {
  const { low } = state.water
  if (plan.index['tank-probe-low'] !== undefined) {
    if (contradictingSince(state.water, at) !== null) return null
    const asking = low.seen && !low.wet && low.drySince !== null && at - low.drySince >= 20 * SECOND
    return asking ? Math.max(low.drySince ?? at, state.pump.lastEndAt ?? 0) : null
  }
  const tank = plan.site.tank
  const { restLevelM, calledSince } = state.water
  if (tank === null || levelM === null || restLevelM === null) return levelM === null ? calledSince : null
  const learned = usual(state.usual.startLevelM, 3)
  const surely = learned === null ? 0.01 : startDoubtM(learned, levelNoiseM(plan, state))
  const margin = surely + wanderM(plan, state)
  const mark = learned === null ? tank.lowMarkM : learned.value
  if (restLevelM >= mark - (calledSince === null ? margin : 0.5 * margin)) return null
  return calledSince ?? at
}

function atHigh(plan: SitePlan, state: EngineState, levelM: number | null): boolean | null {
  if (plan.index['tank-probe-high'] !== undefined) return state.water.high.seen ? state.water.high.wet : null
  const tank = plan.site.tank
  if (tank === null || levelM === null) return null
  const learned = usual(state.usual.endLevelM, 3)
  const surely = learned === null ? Math.max(0.01, 0.01 * tank.highMarkM) : Math.max(0.002, 3 * learned.sd)
  const margin = surely + wanderM(plan, state)
  return levelM >= fullLevelM(plan, state) + margin
}

function pastFull(plan: SitePlan, state: EngineState, levelM: number | null): boolean | null {
  if (plan.index['tank-probe-full'] !== undefined && state.water.full.seen) return state.water.full.wet
  const tank = plan.site.tank
  if (tank === null || levelM === null) return null
  return levelM >= tank.fullM - Math.max(0.003, 2 * levelNoiseM(plan, state))
}

export type Rise = {
  since: Ms | null
  expectedL: number | null
  seenL: number | null
  sdL: number | null
  windowS: number
  arriving: boolean | null
}

const NO_RISE: Rise = { since: null, expectedL: null, seenL: null, sdL: null, windowS: 0, arriving: null }

/** The flow to expect of this pump, litres a minute: learned, else from ratings; null when neither is known. */
export function expectedFlowLMin(plan: SitePlan, state: EngineState): number | null {
  return usual(state.usual.flowLMin)?.value ?? plan.priorFlowLMin
}

/** Whether water arrives in the run under way. A tank that falls while the pump runs is being drawn from: no verdict. */
export function lookAtRise(plan: SitePlan, state: EngineState, run: Run, at: Ms): Rise {
  const flow = expectedFlowLMin(plan, state)
  if (flow === null) return NO_RISE
  if (plan.index['tank-level'] !== undefined) return riseByLevel(plan, state, run, flow)
  if (plan.index['tank-probe-low'] !== undefined) return riseByLowProbe(plan, state, run, flow, at)
  return NO_RISE
}

/** A tank that falls by no more than this share of the pump's flow, nor rises by more than a trickle, stands still. */
const FLAT_SHARE = 0.1
const TRICKLE_SHARE = 0.15
const FLAT_LEAST_MIN = 7

function riseByLevel(plan: SitePlan, state: EngineState, run: Run, flow: number): Rise {
  const noiseL = levelNoiseM(plan, state) * plan.areaLM
  const minuteSd = noiseL / Math.sqrt(Math.max(1, 60 / Math.max(1, state.water.periodS)))
  const n = run.minuteT.length
  const need = Math.max(2, Math.ceil((3.5 * Math.SQRT2 * minuteSd) / (0.5 * flow)))
  if (n <= need) return NO_RISE
  const lastT = run.minuteT[n - 1] ?? 0
  const backT = run.minuteT[n - 1 - need] ?? 0
  const minutes = (lastT - backT) / MINUTE
  const rise = (run.minuteV[n - 1] ?? 0) - (run.minuteV[n - 1 - need] ?? 0)
  if (rise >= 0.5 * flow * minutes) {
    run.arrivedAt = lastT
    const sdL = minuteSd * Math.SQRT2
    return { since: null, expectedL: flow * minutes, seenL: rise, sdL, windowS: minutes * 60, arriving: true }
  }
  return standsStill(state, run, flow, minuteSd)
}

/**
 * No water arrives when the tank stands still for minutes on end. The window is as long as the sensor's noise needs to
 * tell still from rising; its points must lie on one line, since a fall and a rise together are a draw, not stillness.
 */
function standsStill(state: EngineState, run: Run, flow: number, minuteSd: number): Rise {
  const from = Math.max(run.arrivedAt ?? 0, run.start + Math.min(startWindowS(state), 120) * 1000)
  const needMin = Math.max(FLAT_LEAST_MIN, ((3.46 * minuteSd) / (0.045 * flow)) ** (2 / 3))
  const x: number[] = []
  const y: number[] = []
  const lastT = run.minuteT.at(-1) ?? 0
  for (let k = run.minuteT.length - 1; k >= 0; k -= 1) {
    const t = run.minuteT[k] ?? 0
    if (t < from || (lastT - t) / MINUTE > 2 * needMin) break
    x.push((t - lastT) / MINUTE)
    y.push(run.minuteV[k] ?? 0)
    if (-(x.at(-1) ?? 0) >= needMin && !isFlat(x, y, flow, minuteSd)) {
      x.pop()
      y.pop()
      break
    }
  }
  const minutes = -(x.at(-1) ?? 0)
  const fitted = fitLine(x, y)
  if (fitted === null) return NO_RISE
  const still = minutes >= needMin - 0.5 && isFlat(x, y, flow, minuteSd)
  const earliest = lastT - minutes * MINUTE - MINUTE / 2
  return {
    since: still ? earliest : null,
    expectedL: flow * minutes,
    seenL: fitted.slope * minutes,
    sdL: minuteSd * Math.SQRT2,
    windowS: minutes * 60,
    arriving: still ? false : null,
  }
}

function isFlat(x: readonly number[], y: readonly number[], flow: number, minuteSd: number): boolean {
  const fitted = fitLine(x, y)
  if (fitted === null) return false
  const still = fitted.slope > -FLAT_SHARE * flow && fitted.slope < TRICKLE_SHARE * flow
  return still && fitted.residualSd < 1.5 * minuteSd + 0.05
}

/** Waiting for the low probe: longer while the current is as usual, since a shower at the start looks the same. */
const PATIENT_MS = 30 * MINUTE
const HASTY_MS = 5 * MINUTE
/** A pump that works this much harder than usual meets a block; a falling well adds a tenth, wear takes some. */
const CURRENT_HIGH = 1.25

/** With probes only, the low probe must be wet again a while after the start; if it stays dry, no water arrives. */
function riseByLowProbe(plan: SitePlan, state: EngineState, run: Run, flow: number, at: Ms): Rise {
  const { low } = state.water
  if (!low.seen || contradictingSince(state.water, at) !== null) return NO_RISE
  const { drySince } = low
  if (low.wet || drySince === null) return run.lowDryAtStart && low.wet ? { ...NO_RISE, arriving: true } : NO_RISE
  if (drySince > run.start + 5 * MINUTE) {
    // Dry again in the middle of a fill: either no water comes, or the probe is fouled, which the high one shows by the end.
    const usualS = usual(state.usual.durationS, 3)?.value ?? 3600
    const overdue = at > run.start + usualS * 1000 + 10 * MINUTE
    return overdue ? { ...NO_RISE, since: drySince - MINUTE, arriving: false } : NO_RISE
  }
  const usualA = usualCurrent(plan, state)
  const ratio = run.runA !== null && usualA !== null ? run.runA / usualA : 1
  const off = ratio > CURRENT_HIGH
  const drawn = ((usualDrawLH(state) ?? 10) * Math.max(0, run.start - drySince)) / 3_600_000
  const allowMs = (off ? HASTY_MS : PATIENT_MS) + ((3 * drawn + 5) / flow) * MINUTE
  return at > run.start + allowMs ? { ...NO_RISE, since: run.start, arriving: false } : NO_RISE
}
