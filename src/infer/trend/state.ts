/** The trend's memory: the baseline, the two charts, the latest points. Some kB. */
import { emptyTrendFacts, type TrendFacts } from '../../model/facts-trend.js'
import type { Ms } from '../../model/time.js'
import { createUsual, type UsualState } from '../usual.js'
import type { Baseline, FillPoint } from './baseline.js'
import { type CheckValveState, createCheckValve } from './check-valve.js'
import { createDrift, type DriftState } from './drift.js'

export type TrendState = {
  /** Points of the baseline while it still grows. */
  basePoints: FillPoint[]
  baseline: Baseline | null
  /** Fills of which the quickest will be a point, where draws hide the rate. */
  waiting: FillPoint[]
  /** The latest points of the charts. */
  recent: FillPoint[]
  yield: DriftState
  energy: DriftState
  powerW: UsualState
  zeroA: UsualState
  /** Ends of the fills that what is usual rests on. */
  learnedAt: Ms[]
  checkValve: CheckValveState
  /** What follows from all this; worked out when a fill is closed. */
  facts: TrendFacts
}

export function createTrend(): TrendState {
  return {
    basePoints: [],
    baseline: null,
    waiting: [],
    recent: [],
    yield: createDrift(),
    energy: createDrift(),
    powerW: createUsual(),
    zeroA: createUsual(),
    learnedAt: [],
    checkValve: createCheckValve(),
    facts: emptyTrendFacts(),
  }
}
