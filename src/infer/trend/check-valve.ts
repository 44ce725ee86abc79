/**
 * How long it takes from the start until water comes. A drop pipe that drains back between fills, through a weep hole or
 * a leaking check valve, must fill first: the current climbs with the column, and the tank rises later.
 */
import type { CheckValveFacts } from '../../model/facts-trend.js'
import type { FillCycle } from '../../model/fill.js'
import type { Usual } from '../../model/facts.js'
import { HOUR, type Ms } from '../../model/time.js'
import type { Run } from '../state.js'
import { fitLine, MAD_TO_SD, median } from '../stats.js'

/** Seconds by either witness; null: it did not see this start. */
export type Delay = {
  readonly t: Ms
  readonly byCurrentS: number | null
  readonly byLevelS: number | null
  readonly restH: number | null
}

export type CheckValveState = {
  /** What was usual: the first delays since the last new baseline. */
  currentBase: number[]
  levelBase: number[]
  delays: Delay[]
  resolutionS: number
  lastEnd: Ms | null
}

const BASE_MOST = 16
const BASE_LEAST = 8
const DELAYS_KEPT = 24
/** Slower samples cannot see a delay that a leaking valve makes. */
const RESOLUTION_MAX_S = 60
/** A delay must grow by this much at least, and by this many sampling intervals. */
const GROWTH_LEAST_S = 20
const INTERVALS_LEAST = 2
/** Ratio of the standard error of a median to that of a mean, normal samples: √(π/2). */
const MEDIAN_SE = 1.2533
/** Rests that are all alike cannot show whether the delay grows with them. */
const REST_SPREAD_LEAST_H = 4
const GROWTH_FILLS_LEAST = 8

export function createCheckValve(): CheckValveState {
  return { currentBase: [], levelBase: [], delays: [], resolutionS: 0, lastEnd: null }
}

/** Takes every run's end for the rest before the next, and the delay of those that were whole. */
export function takeDelay(state: CheckValveState, run: Run, cycle: FillCycle): void {
  const restH = state.lastEnd === null ? null : (cycle.start - state.lastEnd) / HOUR
  state.lastEnd = cycle.end
  if (!cycle.complete || cycle.endReason !== 'full') return
  state.resolutionS = Math.round(cycle.durationS / Math.max(1, run.energy.samples))
  const seen = state.resolutionS <= RESOLUTION_MAX_S && run.reachedAt !== null
  const byCurrentS = seen && run.reachedAt !== null ? (run.reachedAt - run.firstOn) / 1000 : null
  const byLevelS = cycle.firstRiseS === null ? null : Math.round(cycle.firstRiseS)
  if (byCurrentS !== null && state.currentBase.length < BASE_MOST) state.currentBase.push(byCurrentS)
  if (byLevelS !== null && state.levelBase.length < BASE_MOST) state.levelBase.push(byLevelS)
  state.delays.push({
    t: cycle.start,
    byCurrentS,
    byLevelS,
    restH: restH === null ? null : Math.round(restH * 10) / 10,
  })
  if (state.delays.length > DELAYS_KEPT) state.delays.shift()
}

type Witness = {
  readonly name: 'current' | 'level'
  readonly of: (delay: Delay) => number | null
  readonly base: readonly number[]
  /** The median of so many latest stands for now: the level's delays scatter with what people draw. */
  readonly recent: number
}

export function checkValveFacts(state: CheckValveState): CheckValveFacts {
  const witnesses: Witness[] = [
    { name: 'current', of: (delay) => delay.byCurrentS, base: state.currentBase, recent: 3 },
    { name: 'level', of: (delay) => delay.byLevelS, base: state.levelBase, recent: 5 },
  ]
  const seen = witnesses.filter(({ base }) => base.length > 0)
  const told = seen.map((witness) => bySeen(state, witness))
  const longer = told.find((one) => one.verdict === 'longer')
  return longer ?? told[0] ?? nothingSeen(state)
}

function nothingSeen(state: CheckValveState): CheckValveFacts {
  const verdict = state.delays.length >= BASE_LEAST ? 'not-measured' : 'learning'
  const { resolutionS } = state
  const unknown = { witness: null, usual: null, latestS: null, recentS: null, growthSPerH: null, since: null }
  return { verdict, resolutionS, ...unknown }
}

function bySeen(state: CheckValveState, witness: Witness): CheckValveFacts {
  const usual = usualDelay(witness.base)
  const seen = state.delays.flatMap((delay) => {
    const seconds = witness.of(delay)
    return seconds === null ? [] : [{ t: delay.t, seconds, restH: delay.restH }]
  })
  const latest = seen.slice(-witness.recent)
  const recentS = latest.length === 0 ? null : median(latest.map((one) => one.seconds))
  const doubtS = (3 * MEDIAN_SE * usual.sd) / Math.sqrt(witness.recent)
  const limitS = usual.value + Math.max(GROWTH_LEAST_S, INTERVALS_LEAST * state.resolutionS, doubtS)
  const learned = usual.fills >= BASE_LEAST
  const longer = learned && latest.length >= witness.recent && recentS !== null && recentS > limitS
  return {
    verdict: learned ? (longer ? 'longer' : 'as-usual') : 'learning',
    witness: witness.name,
    resolutionS: state.resolutionS,
    usual,
    latestS: latest.at(-1)?.seconds ?? null,
    recentS,
    growthSPerH: growth(seen),
    since: longer ? begin(seen, limitS) : null,
  }
}

function usualDelay(base: readonly number[]): Usual {
  const value = median(base)
  return { value, sd: MAD_TO_SD * median(base.map((one) => Math.abs(one - value))), fills: base.length }
}

/** Start of the spell of long delays that lasts until now; one short one between does not end it. */
function begin(seen: readonly { t: Ms; seconds: number }[], limitS: number): Ms | null {
  let from: Ms | null = null
  let short = 0
  for (let k = seen.length - 1; k >= 0 && short < 2; k -= 1) {
    const one = seen[k]
    if (one === undefined) break
    if (one.seconds > limitS) {
      from = one.t
      short = 0
    } else short += 1
  }
  return from
}

/** A leak back takes time: the longer the rest, the longer the wait. Null where that does not stand out. */
function growth(seen: readonly { seconds: number; restH: number | null }[]): CheckValveFacts['growthSPerH'] {
  const rested = seen.filter((one) => one.restH !== null)
  const rests = rested.map((one) => one.restH ?? 0)
  if (rests.length < GROWTH_FILLS_LEAST || Math.max(...rests) - Math.min(...rests) < REST_SPREAD_LEAST_H) return null
  const line = fitLine(
    rests,
    rested.map((one) => one.seconds),
  )
  if (line === null || !(line.slope > 3 * line.slopeSd) || line.slope <= 0) return null
  return { value: line.slope, sd: line.slopeSd }
}
