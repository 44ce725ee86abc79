/** What is usual at a site, and whether its yield and its energy per litre have moved away from it. */
import type { QuantityKind } from './alarm.js'
import type { Usual } from './facts.js'
import type { Figure } from './fill.js'
import type { Ms } from './time.js'

export const USUAL_IDS = [
  'running-current',
  'running-power',
  'reference-voltage',
  'current-zero',
  'fill-volume',
  'fill-time',
  'yield',
  'yield-per-volt',
  'energy-per-litre',
  'start-level',
  'stop-level',
  'start-window',
] as const
export type UsualId = (typeof USUAL_IDS)[number]

/** One learned figure: robust centre and spread, on how many fills it rests, and since when those were seen. */
export type LearnedFigure = {
  readonly id: UsualId
  readonly quantity: QuantityKind
  readonly usual: Usual
  readonly since: Ms
}

/**
 * How yield is seen here. `each-fill`: a level sensor or a meter shows the pump's own rate in each fill. `quiet-fills`:
 * with probes only, what people draw hides it; the quickest of some fills tells. `none`: neither.
 */
export type YieldSight = 'each-fill' | 'quiet-fills' | 'none'

export type DriftDirection = 'not-measured' | 'learning' | 'steady' | 'fallen' | 'risen'

/** One quantity against its own baseline, at the reference voltage. Yield in l/min, energy in Wh per litre. */
export type DriftFacts = {
  readonly direction: DriftDirection
  /** The baseline, and on how many fills it rests. */
  readonly base: Usual | null
  /** Median since the change, or of the latest; null before any. */
  readonly now: number | null
  /** `now / base − 1`, and its standard uncertainty. */
  readonly share: number | null
  readonly shareSd: number | null
  /** When the change began, by the chart; null while it is steady. */
  readonly since: Ms | null
  /** Fills (or quickest of several) since then. */
  readonly points: number
  /** Cumulative sums upwards and downwards, in standard deviations, and the limit that they are held against. */
  readonly sumUp: number
  readonly sumDown: number
  readonly sumLimit: number
  /** Exponentially weighted mean of the deviation, as a share. */
  readonly mean: number
}

/** A step that has stayed: people may have changed something and not said so. */
export type StepSuggestion = {
  readonly of: 'yield' | 'energy'
  readonly since: Ms
  readonly share: number
  readonly fills: number
}

export type CheckValveVerdict = 'not-measured' | 'learning' | 'as-usual' | 'longer'

/** How long it takes from the start until water comes: the drop pipe drains back through a leaking check valve. */
export type CheckValveFacts = {
  readonly verdict: CheckValveVerdict
  /** What shows it: the current climbs as the pipe fills, or the level begins to rise. */
  readonly witness: 'current' | 'level' | null
  /** What lies below cannot be told apart: the time between two samples. */
  readonly resolutionS: number
  readonly usual: Usual | null
  readonly latestS: number | null
  /** Median of the last three. */
  readonly recentS: number | null
  /** Further delay for each hour of rest before; null: it does not show. */
  readonly growthSPerH: Figure | null
  readonly since: Ms | null
}

export type TrendFacts = {
  readonly sight: YieldSight
  readonly referenceV: number | null
  readonly yield: DriftFacts
  readonly energy: DriftFacts
  /** Current and voltage since the change (or lately) over those of the baseline, less 1. */
  readonly currentShare: number | null
  readonly voltageShare: number | null
  readonly suggestion: StepSuggestion | null
  readonly checkValve: CheckValveFacts
  readonly figures: readonly LearnedFigure[]
}

const NO_DRIFT: DriftFacts = Object.freeze({
  direction: 'learning',
  base: null,
  now: null,
  share: null,
  shareSd: null,
  since: null,
  points: 0,
  sumUp: 0,
  sumDown: 0,
  sumLimit: 0,
  mean: 0,
})

/** Nothing learned yet. */
export function emptyTrendFacts(): TrendFacts {
  return {
    sight: 'none',
    referenceV: null,
    yield: NO_DRIFT,
    energy: NO_DRIFT,
    currentShare: null,
    voltageShare: null,
    suggestion: null,
    checkValve: {
      verdict: 'learning',
      witness: null,
      resolutionS: 0,
      usual: null,
      latestS: null,
      recentS: null,
      growthSPerH: null,
      since: null,
    },
    figures: [],
  }
}
