/** What the trend's memory says, as facts for the alarms, the API and the page. */
import type { QuantityKind } from '../../model/alarm.js'
import type {
  DriftFacts,
  LearnedFigure,
  StepSuggestion,
  TrendFacts,
  UsualId,
  YieldSight,
} from '../../model/facts-trend.js'
import type { Usual } from '../../model/facts.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { MAD_TO_SD, median } from '../stats.js'
import { usual, type UsualState } from '../usual.js'
import { type Baseline, energyOff, type FillPoint, yieldOff } from './baseline.js'
import { checkValveFacts } from './check-valve.js'
import { designFor, type DriftState } from './drift.js'
import type { TrendState } from './state.js'

const MEDIAN_SE = 1.2533
/** Lately: so many points, where nothing has moved. */
const LATELY = 5
/** A step is called steady after so many points, and with probes only after so many quickest ones. */
const STEADY_POINTS = 10
const STEADY_POINTS_PROBES = 4
const STEADY_SD = 1.5

export function trendFacts(plan: SitePlan, state: EngineState, sight: YieldSight, least: number): TrendFacts {
  const { trend } = state
  const base = trend.baseline
  const ready = base !== null && base.fills >= least
  const since = trend.yield.since ?? trend.energy.since
  const points = pointsSince(trend, since)
  return {
    sight,
    referenceV: base === null ? (usual(state.usual.voltageV)?.value ?? null) : Math.exp(base.v),
    yield: driftFacts(trend, trend.yield, base, sight, ready, YIELD),
    energy: driftFacts(trend, trend.energy, base, sight, ready, ENERGY),
    currentShare: ready && points.length > 0 ? share(points.map((one) => one.i - base.i)) : null,
    voltageShare: ready && points.length > 0 ? share(points.map((one) => one.v - base.v)) : null,
    suggestion: ready ? suggest(trend, base, sight) : null,
    checkValve: checkValveFacts(trend.checkValve),
    figures: figures(plan, state),
  }
}

type Side = {
  readonly off: (base: Baseline, point: FillPoint) => number
  readonly centre: (base: Baseline) => number
  readonly sd: (base: Baseline) => number
}

const YIELD: Side = { off: yieldOff, centre: (base) => base.y, sd: (base) => base.ySd }
const ENERGY: Side = { off: energyOff, centre: (base) => base.w, sd: (base) => base.wSd }

function share(offs: readonly number[]): number {
  return Math.expm1(median(offs))
}

function pointsSince(trend: TrendState, since: number | null): readonly FillPoint[] {
  return since === null ? trend.recent.slice(-LATELY) : trend.recent.filter((one) => one.t >= since)
}

function driftFacts(
  trend: TrendState,
  drift: DriftState,
  base: Baseline | null,
  sight: YieldSight,
  ready: boolean,
  side: Side,
): DriftFacts {
  const sd = base === null ? 0 : side.sd(base)
  const design = designFor(sd)
  const points = base === null || !ready ? [] : pointsSince(trend, drift.since)
  const offs = base === null ? [] : points.map((one) => side.off(base, one))
  const middle = offs.length > 0 ? median(offs) : null
  const centre = base === null ? 0 : Math.exp(side.centre(base))
  const doubt = Math.hypot(1 / Math.sqrt(Math.max(1, offs.length)), 1 / Math.sqrt(Math.max(1, base?.fills ?? 1)))
  return {
    direction: direction(sight, ready, drift),
    base: base === null ? null : { value: centre, sd: centre * sd, fills: base.fills },
    now: middle === null ? null : centre * Math.exp(middle),
    share: middle === null ? null : Math.expm1(middle),
    shareSd: middle === null ? null : Math.exp(middle) * MEDIAN_SE * sd * doubt,
    since: drift.since,
    points: drift.moved === 0 ? 0 : points.length,
    sumUp: drift.up,
    sumDown: drift.down,
    sumLimit: design.h,
    mean: Math.expm1(drift.mean),
  }
}

function direction(sight: YieldSight, ready: boolean, drift: DriftState): DriftFacts['direction'] {
  if (sight === 'none') return 'not-measured'
  if (!ready) return 'learning'
  if (drift.moved === 0) return 'steady'
  return drift.moved < 0 ? 'fallen' : 'risen'
}

/** A step with a steady baseline before it and steady points after it: perhaps somebody changed something. */
function suggest(trend: TrendState, base: Baseline, sight: YieldSight): StepSuggestion | null {
  for (const [of, drift, side] of [
    ['yield', trend.yield, YIELD],
    ['energy', trend.energy, ENERGY],
  ] as const) {
    if (drift.moved === 0 || drift.since === null) continue
    const offs = pointsSince(trend, drift.since).map((one) => side.off(base, one))
    const least = sight === 'quiet-fills' ? STEADY_POINTS_PROBES : STEADY_POINTS
    if (offs.length < least || !isSteady(offs, side.sd(base))) continue
    return { of, since: drift.since, share: share(offs), fills: offs.length }
  }
  return null
}

function isSteady(offs: readonly number[], sd: number): boolean {
  const middle = median(offs)
  const half = Math.floor(offs.length / 2)
  const spread = MAD_TO_SD * median(offs.map((one) => Math.abs(one - middle)))
  return Math.abs(median(offs.slice(0, half)) - median(offs.slice(half))) < sd && spread < STEADY_SD * sd
}

function figures(plan: SitePlan, state: EngineState): readonly LearnedFigure[] {
  const { trend, usual: u } = state
  const listed: LearnedFigure[] = []
  const add = (id: UsualId, quantity: QuantityKind, of: UsualState, by = 1): void => {
    const found = usual(of)
    if (found === null) return
    const scaled: Usual = { value: found.value * by, sd: found.sd * Math.abs(by), fills: found.fills }
    const since = trend.learnedAt[Math.max(0, trend.learnedAt.length - found.fills)]
    if (since !== undefined) listed.push({ id, quantity, usual: scaled, since })
  }
  const referenceV = usual(u.voltageV)?.value ?? null
  const byLevel = plan.index['tank-level'] !== undefined && u.ratePerV.cached !== null && referenceV !== null
  add('running-current', 'current', u.currentA)
  add('running-power', 'power', trend.powerW)
  add('reference-voltage', 'voltage', u.voltageV)
  add('current-zero', 'current', trend.zeroA)
  add('fill-volume', 'volume', u.volumeL)
  add('fill-time', 'duration', u.durationS)
  // The rate at a reference voltage where each fill shows it; else what the quick fills gave.
  if (byLevel) add('yield', 'flow', u.ratePerV, referenceV)
  else add('yield', 'flow', u.flowLMin)
  if (byLevel) add('yield-per-volt', 'flow', u.ratePerV)
  add('energy-per-litre', 'energy-per-volume', u.whPerL)
  add('start-level', 'level', u.startLevelM)
  add('stop-level', 'level', u.endLevelM)
  add('start-window', 'duration', u.startWindowS)
  return listed
}
