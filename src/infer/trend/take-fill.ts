/** A fill that has been closed, taken into the baseline and the charts of yield and energy. */
import type { YieldSight } from '../../model/facts-trend.js'
import type { FillCycle } from '../../model/fill.js'
import { DAY, MINUTE } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState, Run } from '../state.js'
import { median } from '../stats.js'
import { learn, usual } from '../usual.js'
import {
  BASE_FILLS,
  BASE_LEAST,
  BASE_LEAST_PROBES,
  type Baseline,
  energyOff,
  type FillPoint,
  fitBaseline,
  QUICKEST_OF,
  yieldOff,
} from './baseline.js'
import { takeDelay } from './check-valve.js'
import { CLIP, CLIP_QUICKEST, createDrift, isStirring, seasonShare, takeDeviation } from './drift.js'
import { trendFacts } from './facts.js'
import type { TrendState } from './state.js'

/** Fills behind each learned figure, as in usual.ts. */
const LEARNED_KEPT = 24
const RECENT_KEPT = 24
/** A shorter run, or one that brought less than this share of the usual, says too little of the rate. */
const RUN_LEAST_MS = 10 * MINUTE
const VOLUME_LEAST_SHARE = 0.3
/** A deviation beyond this factor is a sensor's or a unit's, and sensor-suspect's to tell. */
const FACTOR_MOST = 2.5
/** The rate's own doubt where a fill does not give it. */
const RATE_SD = 0.03
/** After a pause so long, what was half summed before it is not carried on. */
const PAUSE_MS = 21 * DAY

export function sightOf(plan: SitePlan): YieldSight {
  const { index } = plan
  if (index['pump-volume'] !== undefined || index['pump-flow'] !== undefined) return 'each-fill'
  if (plan.site.tank === null) return 'none'
  if (index['tank-level'] !== undefined) return 'each-fill'
  return index['tank-probe-low'] !== undefined && index['tank-probe-high'] !== undefined ? 'quiet-fills' : 'none'
}

/** So many fills, and the baseline serves. */
export function leastFills(sight: YieldSight): number {
  return sight === 'quiet-fills' ? BASE_LEAST_PROBES : BASE_LEAST
}

/** To be called once for each run that is closed, after what is usual has been learned from it. */
export function takeFill(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): void {
  const { trend } = state
  const sight = sightOf(plan)
  takeDelay(trend.checkValve, run, cycle)
  if (cycle.complete && cycle.endReason === 'full') {
    trend.learnedAt.push(cycle.end)
    if (trend.learnedAt.length > LEARNED_KEPT) trend.learnedAt.shift()
    if (cycle.energyWh !== null) learn(trend.powerW, (cycle.energyWh.value / cycle.durationS) * 3600)
    learn(trend.zeroA, state.pump.zeroA)
  }
  const point = sight === 'none' ? null : pointOf(plan, state, run, cycle)
  if (point !== null) takePoint(trend, point, sight)
  trend.facts = trendFacts(plan, state, sight, leastFills(sight))
}

/** The fill's logarithms; null where it is not fit to be compared. */
function pointOf(plan: SitePlan, state: EngineState, run: Run, cycle: FillCycle): FillPoint | null {
  const { volumeL, energyWh, flowLMin, voltageMeanV, durationS } = cycle
  if (!cycle.complete || volumeL === null || energyWh === null || voltageMeanV === null) return null
  if (durationS * 1000 < RUN_LEAST_MS || isDoubted(state)) return null
  const usualL = usual(state.usual.volumeL, 3)
  if (usualL !== null && volumeL.value < VOLUME_LEAST_SHARE * usualL.value) return null
  const metered = plan.index['pump-volume'] !== undefined || plan.index['pump-flow'] !== undefined
  const rate = metered ? (flowLMin?.value ?? null) : run.rateLMin
  const rateSd = metered ? (flowLMin?.sd ?? null) : run.rateSdLMin
  const amps = run.currents.length >= 5 ? median(run.currents) : cycle.currentMeanA
  if (rate === null || rate <= 0 || amps === null || amps <= 0 || voltageMeanV <= 0) return null
  const watts = (energyWh.value / durationS) * 3600
  if (watts <= 0) return null
  const point: FillPoint = {
    t: cycle.start,
    y: round(Math.log(rate)),
    w: round(Math.log(watts / (60 * rate))),
    v: round(Math.log(voltageMeanV)),
    i: round(Math.log(amps)),
    sd: round(rateSd === null ? RATE_SD : rateSd / rate),
  }
  const base = state.trend.baseline
  return base !== null && Math.abs(yieldOff(base, point)) > Math.log(FACTOR_MOST) ? null : point
}

/** State is stored each hour: digits beyond a thousandth of a per cent are only weight. */
function round(value: number): number {
  return Math.round(value * 1e5) / 1e5
}

const RESTS_ON = ['tank-', 'pump-', 'battery-voltage']

/** A signal that the figures rest on is not believed just now. */
function isDoubted(state: EngineState): boolean {
  return Object.keys(state.suspects).some((name) => {
    const key = name.slice(name.indexOf(' ') + 1)
    return RESTS_ON.some((start) => key.startsWith(start))
  })
}

/** Takes one fit fill into baseline or charts. */
export function takePoint(trend: TrendState, point: FillPoint, sight: YieldSight): void {
  const probes = sight === 'quiet-fills'
  const base = trend.baseline
  if (base !== null && base.fills >= leastFills(sight)) {
    forgetBeforePause(trend, point)
    const best = probes ? quickest(trend, base, point) : point
    if (best !== null) chart(trend, base, best, probes ? CLIP_QUICKEST : CLIP)
    if (isStirring(trend.yield, base.ySd) || isStirring(trend.energy, base.wSd)) return
  }
  if (base !== null && base.fills >= BASE_FILLS) return
  trend.basePoints.push(point)
  trend.baseline = fitBaseline(trend.basePoints, probes)
  if (trend.basePoints.length >= BASE_FILLS) trend.basePoints = []
}

/** Gathers fills until the quickest of them can stand for the pump. */
function quickest(trend: TrendState, base: Baseline, point: FillPoint): FillPoint | null {
  trend.waiting.push(point)
  if (trend.waiting.length < QUICKEST_OF) return null
  const best = trend.waiting.reduce((one, other) => (yieldOff(base, other) > yieldOff(base, one) ? other : one))
  trend.waiting = []
  return best
}

function chart(trend: TrendState, base: Baseline, point: FillPoint, most: number): void {
  const season = seasonShare(point.t - base.to)
  takeDeviation(trend.yield, point.t, yieldOff(base, point), Math.max(base.ySd, point.sd), season, most)
  takeDeviation(trend.energy, point.t, energyOff(base, point), Math.max(base.wSd, point.sd), season, most)
  trend.recent.push(point)
  if (trend.recent.length > RECENT_KEPT) trend.recent.shift()
}

function forgetBeforePause(trend: TrendState, point: FillPoint): void {
  const last = trend.waiting.at(-1) ?? trend.recent.at(-1)
  if (last === undefined || point.t - last.t < PAUSE_MS) return
  trend.waiting = []
  if (trend.yield.moved === 0) trend.yield = createDrift()
  if (trend.energy.moved === 0) trend.energy = createDrift()
}
