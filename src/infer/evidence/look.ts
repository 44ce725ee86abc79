/** The readings that the diagnosis rests on, taken at each look of a run; the last ones stay for the alarm of its end. */
import type { EvidenceFacts } from '../../model/facts-evidence.js'
import type { Facts } from '../../model/facts.js'
import type { FillCycle } from '../../model/fill.js'
import { MINUTE, type Ms, SECOND } from '../../model/time.js'
import { levelNoiseM } from '../delivered.js'
import type { SitePlan } from '../plan.js'
import { usualCurrent } from '../pump.js'
import { between } from '../ring.js'
import type { EngineState, Run } from '../state.js'
import { fitLine, MAD_TO_SD, median, medianAbsoluteDeviation } from '../stats.js'
import { usual } from '../usual.js'
import { expectedFlowLMin } from '../water.js'
import { fitPower, powerAt } from './power.js'
import { noEvidence, type RunEvidence } from './state.js'

const FILLS_KEPT = 24
/** The rating says the current only so well. */
const RATED_SD = 0.15
const HUNT_MS = 2 * MINUTE
const HUNT_LEAST = 8
/** Sound runs teach what spread is usual. */
const SOUND_LOW = 0.9
const SOUND_HIGH = 1.1
const CREEP_LEAST = 12
/** Between these the pump works against something: below is the usual scatter, above a rotor that does not turn. */
export const RAISED_LOW = 1.25
export const RAISED_HIGH = 2
/** The first minutes of a run fill the pipe. */
const FIRST_WATER_MS = 90 * SECOND
const RISE_LATEST_MS = 15 * MINUTE

export function emptyEvidence(): EvidenceFacts {
  return {
    ofRun: null,
    powerW: null,
    usualPowerW: null,
    powerShare: null,
    powerShareSd: null,
    huntShare: null,
    usualHuntShare: null,
    creepShare: null,
    raisedSince: null,
    raisedCount: 0,
    riseShare: null,
    riseShareSd: null,
    firstRiseShare: null,
    unasked: null,
    startLevelM: null,
  }
}

/** Learns the settled watts of a complete fill at its voltage. */
export function learnPower(state: EngineState, run: Run, cycle: FillCycle): void {
  const { evidence } = state
  if (!cycle.complete || cycle.endReason !== 'full' || cycle.voltageMeanV === null || run.currents.length < 5) return
  evidence.watts.push(median(run.currents) * cycle.voltageMeanV)
  evidence.volts.push(cycle.voltageMeanV)
  if (evidence.watts.length > FILLS_KEPT) {
    evidence.watts.shift()
    evidence.volts.shift()
  }
  evidence.line = fitPower(evidence.watts, evidence.volts)
}

/** Brings the evidence up to this look; the facts of pump, water and battery must be there. */
export function lookAtEvidence(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { evidence } = state
  const out = facts.evidence
  const run = state.pump.run !== null && state.pump.run.end === null ? state.pump.run : null
  out.raisedSince = null
  out.raisedCount = 0
  if (run !== null && facts.pump.known) {
    if (evidence.run.start !== run.start) evidence.run = beginning(plan, state, run)
    read(plan, state, run, at, facts)
  }
  const seen = evidence.run
  out.ofRun = seen.start
  out.powerW = seen.powerW
  out.usualPowerW =
    seen.usualW === null || seen.usualSdW === null
      ? null
      : { value: seen.usualW, sd: seen.usualSdW, fills: evidence.line?.fills ?? 0 }
  const share = seen.powerW !== null && seen.usualW !== null && seen.usualW > 0 ? seen.powerW / seen.usualW : null
  out.powerShare = share
  out.powerShareSd = share === null ? null : Math.max(0.02, (share * (seen.usualSdW ?? 0)) / (seen.usualW ?? 1))
  out.huntShare = seen.huntShare
  out.usualHuntShare = evidence.huntN >= 40 ? evidence.huntMean : null
  out.creepShare = seen.creepShare
  out.riseShare = seen.riseShare
  out.riseShareSd = seen.riseShareSd
  out.firstRiseShare = seen.firstRiseShare
  out.unasked = seen.unasked
  out.startLevelM = seen.startLevelM
}

function beginning(plan: SitePlan, state: EngineState, run: Run): RunEvidence {
  return { ...noEvidence(run.start), unasked: unasked(plan, state, run), startLevelM: run.startLevelM }
}

function read(plan: SitePlan, state: EngineState, run: Run, at: Ms, facts: Facts): void {
  const { evidence } = state
  const seen = evidence.run
  const amps = facts.pump.recentA
  const volts = facts.battery.recentV
  if (amps === null || facts.pump.recentCount < 3) return
  usualPower(plan, state, facts, seen)
  seen.powerW = volts === null ? null : amps * volts
  const recent = between(state.pump.recent, Math.max(run.firstOn + 30 * SECOND, at - HUNT_MS), at)
  if (recent.length >= HUNT_LEAST) {
    seen.huntShare = (MAD_TO_SD * medianAbsoluteDeviation(recent)) / Math.max(0.1, median(recent))
    learnHunt(state, seen, facts)
  }
  seen.creepShare = creep(run)
  raised(plan, state, run, at, facts)
  rise(plan, state, run, facts, seen)
  const first = usual(state.usual.firstRiseS, 3)
  seen.firstRiseShare =
    run.firstRiseS !== null && first !== null && first.value > 5 ? run.firstRiseS / first.value : null
}

/** Usual watts at the voltage now: learned, else the rated or learned current times the voltage. */
function usualPower(plan: SitePlan, state: EngineState, facts: Facts, seen: RunEvidence): void {
  const volts = facts.battery.recentV
  const { line } = state.evidence
  if (volts === null) return
  if (line !== null) {
    const here = powerAt(line, volts)
    seen.usualW = here.value
    seen.usualSdW = here.sd
    return
  }
  const amps = usualCurrent(plan, state)
  seen.usualW = amps === null ? null : amps * volts
  seen.usualSdW = amps === null ? null : RATED_SD * amps * volts
}

function learnHunt(state: EngineState, seen: RunEvidence, facts: Facts): void {
  const { evidence } = state
  const share = seen.powerW !== null && seen.usualW !== null ? seen.powerW / seen.usualW : null
  if (!facts.pump.settled || share === null || share < SOUND_LOW || share > SOUND_HIGH || seen.huntShare === null)
    return
  evidence.huntN = Math.min(evidence.huntN + 1, 200)
  evidence.huntMean += (seen.huntShare - evidence.huntMean) / evidence.huntN
}

/** A well that is being drawn down makes the pump lift further: its current creeps up before it goes light. */
function creep(run: Run): number | null {
  const { currents } = run
  if (currents.length < CREEP_LEAST) return null
  const quarter = currents.length >> 2
  return median(currents.slice(-quarter)) / median(currents.slice(0, quarter)) - 1
}

/** Walks back over the latest samples while they stand above the usual but below a jam; one stray is passed over. */
function raised(plan: SitePlan, state: EngineState, run: Run, at: Ms, facts: Facts): void {
  const expected = usualCurrent(plan, state)
  if (expected === null) return
  const { t, v } = state.pump.recent
  let strays = 0
  for (let i = t.length - 1; i >= 0; i -= 1) {
    const when = t[i] ?? 0
    const amps = v[i] ?? 0
    if (when <= run.firstOn || when > at) break
    if (amps < RAISED_LOW * expected || amps >= RAISED_HIGH * expected) {
      strays += 1
      if (strays > 1 || i === t.length - 1) break
      continue
    }
    facts.evidence.raisedSince = when
    facts.evidence.raisedCount += 1
  }
}

/** Slope of the tank since water was due, or since the current changed, over the usual flow at this voltage. */
function rise(plan: SitePlan, state: EngineState, run: Run, facts: Facts, seen: RunEvidence): void {
  seen.riseShare = null
  seen.riseShareSd = null
  const flow = expectedFlowLMin(plan, state)
  const lastT = run.minuteT.at(-1)
  if (flow === null || flow <= 0 || lastT === undefined || plan.index['tank-level'] === undefined) return
  const changed = Math.max(run.lightSince ?? 0, facts.evidence.raisedSince ?? 0)
  const from = Math.max(run.start + FIRST_WATER_MS, changed, lastT - RISE_LATEST_MS)
  const x: number[] = []
  const y: number[] = []
  for (let k = run.minuteT.length - 1; k >= 0; k -= 1) {
    const t = run.minuteT[k] ?? 0
    if (t - MINUTE / 2 < from - 15 * SECOND) break
    x.push((t - lastT) / MINUTE)
    y.push(run.minuteV[k] ?? 0)
  }
  const fitted = fitLine(x, y)
  if (fitted === null) return
  const mean = x.reduce((sum, one) => sum + one, 0) / x.length
  const sxx = x.reduce((sum, one) => sum + (one - mean) ** 2, 0)
  const minuteSd =
    (levelNoiseM(plan, state) * plan.areaLM) / Math.sqrt(Math.max(1, 60 / Math.max(1, state.water.periodS)))
  seen.riseShare = fitted.slope / flow
  seen.riseShareSd = minuteSd / Math.sqrt(sxx) / flow
}

/** A quarter of the band above the level at which this control starts, nothing has called for water. */
const UNASKED_BAND_SHARE = 0.25
const UNASKED_LEAST_M = 0.03
/** After an end like this the call may still stand, wherever the level is. */
const CALL_STANDS = ['dry', 'power-lost', 'stalled', 'manual', 'unknown', null] as const

function unasked(plan: SitePlan, state: EngineState, run: Run): boolean | null {
  const { tank } = plan.site
  if (!run.startKnown || CALL_STANDS.some((end) => end === state.pump.lastEnd)) return null
  if (plan.index['tank-level'] !== undefined && tank !== null) {
    const begins = usual(state.usual.startLevelM, 5)
    if (begins === null || run.startLevelM === null) return null
    const margin = Math.max(UNASKED_LEAST_M, UNASKED_BAND_SHARE * (tank.highMarkM - tank.lowMarkM), 6 * begins.sd)
    return run.startLevelM > begins.value + margin
  }
  const { low } = state.water
  if (!low.seen || run.lowLastWet === null) return null
  // Wet at the start, and no dry reading for a quarter of an hour before it.
  return !run.lowDryAtStart && low.wet && run.start - low.lastDry > 15 * MINUTE
}
