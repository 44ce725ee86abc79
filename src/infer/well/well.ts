/**
 * What the well gives, from its own level: specific capacity at equal run times, and how quickly it recovers. Both fall
 * when the water table sinks or the screen clogs, long before the pump sucks air.
 */
import type { WellFacts } from '../../model/facts-well.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { median } from '../stats.js'
import { recoveredShare, specificCapacity } from './formulas.js'

/** Drawdown goes on for hours: only figures at one and the same run time compare. */
const AT_MS = 10 * MINUTE
const NEAR_MS = 2 * MINUTE
const KEPT = 30
const LEAST_DRAWDOWN_M = 0.05
const STALE_MS = 10 * MINUTE

export type WellState = {
  levelM: number | null
  t: Ms
  /** Level at rest, smoothed; taken as the level before a run when one starts. */
  restM: number | null
  /** Of the run under way or the latest: its start and stop, level before it, at its tenth minute and at its stop. */
  runStart: Ms
  stopAt: Ms | null
  beforeM: number | null
  tenthM: number | null
  stopM: number | null
  capacities: number[]
  capacityAt: Ms | null
  recoveries: number[]
}

export function createWell(): WellState {
  return {
    levelM: null,
    t: 0,
    restM: null,
    runStart: 0,
    stopAt: null,
    beforeM: null,
    tenthM: null,
    stopM: null,
    capacities: [],
    capacityAt: null,
    recoveries: [],
  }
}

/** A reading of the well's level, m above the intake. */
export function takeWellLevel(state: EngineState, t: Ms, levelM: number): void {
  const { well, pump } = state
  const running = pump.run !== null && pump.run.end === null && pump.run.offAt === null
  if (running && pump.run !== null && pump.run.start !== well.runStart) {
    well.runStart = pump.run.start
    well.beforeM = well.restM
    well.tenthM = null
    well.stopAt = null
  }
  if (running) {
    const ran = t - well.runStart
    if (well.tenthM === null && ran >= AT_MS && ran <= AT_MS + NEAR_MS) well.tenthM = levelM
    well.stopM = levelM
  } else {
    if (well.runStart > 0 && well.stopAt === null) well.stopAt = well.t
    noteRecovery(well, t, levelM)
    // A well that still recovers is not at rest; its level creeps up to it.
    well.restM = well.restM === null || t - well.t > HOUR ? levelM : well.restM + 0.05 * (levelM - well.restM)
  }
  well.levelM = levelM
  well.t = t
}

function noteRecovery(well: WellState, t: Ms, levelM: number): void {
  const { stopAt, beforeM, stopM } = well
  if (stopAt === null || beforeM === null || stopM === null) return
  const since = t - stopAt
  if (since < AT_MS) return
  if (since <= AT_MS + NEAR_MS && beforeM - stopM >= LEAST_DRAWDOWN_M) {
    push(well.recoveries, Math.max(0, Math.min(1.2, recoveredShare(beforeM, stopM, levelM))))
  }
  well.stopM = null
}

/** When a run has become a fill: its flow over its drawdown in the tenth minute. */
export function noteCapacity(state: EngineState, start: Ms, flowLMin: number | null): void {
  const { well } = state
  const { beforeM, tenthM } = well
  if (flowLMin === null || beforeM === null || tenthM === null || start !== well.runStart) return
  const drawdownM = beforeM - tenthM
  if (drawdownM < LEAST_DRAWDOWN_M) return
  push(well.capacities, specificCapacity(flowLMin, drawdownM))
  well.capacityAt = start
}

function push(list: number[], value: number): void {
  list.push(value)
  if (list.length > KEPT) list.shift()
}

export function lookAtWell(plan: SitePlan, state: EngineState, at: Ms, out: WellFacts): void {
  if (plan.index['well-level'] === undefined) return
  const { well } = state
  const fresh = well.levelM !== null && at - well.t <= STALE_MS
  out.levelM = fresh ? well.levelM : null
  out.restM = well.restM
  const run = state.pump.run
  out.drawdownM =
    fresh && run !== null && run.end === null && well.beforeM !== null && well.levelM !== null
      ? well.beforeM - well.levelM
      : null
  out.capacityLMinM = well.capacities.at(-1) ?? null
  out.usualCapacityLMinM = well.capacities.length >= 3 ? median(well.capacities) : null
  out.capacityRuns = well.capacities.length
  out.capacityAt = well.capacityAt
  out.recovered = well.recoveries.at(-1) ?? null
  out.usualRecovered = well.recoveries.length >= 3 ? median(well.recoveries) : null
}
