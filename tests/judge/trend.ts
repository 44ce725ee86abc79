/** Facts of a trend that has moved, for the judge's tests. */
import { type DriftFacts, emptyTrendFacts, type TrendFacts } from '../../src/model/facts-trend.js'

export type Moved = {
  /** Null: learned and steady at its baseline. A share below 0.05 is seen, and not yet told by its chart. */
  readonly yieldShare: number | null
  readonly energyShare: number | null
  readonly currentShare: number
  readonly voltageShare?: number
  readonly since: number
  readonly sight?: TrendFacts['sight']
}

function drift(value: number, share: number | null, since: number): DriftFacts {
  const told = share !== null && Math.abs(share) >= 0.05
  return {
    direction: told ? (share < 0 ? 'fallen' : 'risen') : 'steady',
    base: { value, sd: 0.025 * value, fills: 24 },
    now: value * (1 + (share ?? 0)),
    share: share ?? 0,
    shareSd: 0.015,
    since: told ? since : null,
    points: told ? 9 : 0,
    sumUp: share !== null && share > 0 ? 6 : 0,
    sumDown: share !== null && share < 0 ? 6 : 0,
    sumLimit: 4,
    mean: share ?? 0,
  }
}

export function trendOf(moved: Moved): TrendFacts {
  return {
    ...emptyTrendFacts(),
    sight: moved.sight ?? 'each-fill',
    referenceV: 26.4,
    yield: drift(4.2, moved.yieldShare, moved.since),
    energy: drift(0.31, moved.energyShare, moved.since),
    currentShare: moved.currentShare,
    voltageShare: moved.voltageShare ?? 0,
  }
}
