/** A run becomes a fill cycle: its figures, why it ended, and what is learned from it. */
import type { Figure, FillCycle } from '../model/fill.js'
import { MINUTE } from '../model/time.js'
import { delivered } from './delivered.js'
import { endReason } from './ending.js'
import { hydraulicFloorWhPerL, settleEnergy } from './energy.js'
import { wasBroken } from './episode/chatter.js'
import { goesOnAfterRest } from './episode/slow-well.js'
import { divide } from './figure.js'
import type { SitePlan } from './plan.js'
import { signalGapMs } from './pump.js'
import type { EngineState, Run } from './state.js'
import { median } from './stats.js'
import { learn } from './usual.js'

/** Readings just after the stop are waited for this long, so that the level has been seen at rest. */
export const FINISH_AFTER_MS = 2.5 * MINUTE
/** A run whose current was missing for more than this share is not fit for trends. */
const GAP_SHARE_MAX = 0.2

export type Finished = { readonly cycle: FillCycle; readonly drawL: number }

/** Reckons a run that has ended. Learning is separate (`learnFrom`), so that this changes nothing but energy's rest. */
export function finish(plan: SitePlan, state: EngineState, run: Run): Finished {
  const end = run.end ?? run.lastOn
  const gapMs = signalGapMs(plan)
  settleEnergy(run.energy, state.battery.volts, gapMs, true)
  const durationS = (end - run.start) / 1000
  const durationSdS = Math.hypot(run.startSdS, run.endSdS)
  const reason = endReason(plan, state, run)
  const water = delivered(plan, state, run, reason)
  const voltageMeanV = run.vN > 0 ? run.vSum / run.vN : null
  const energyWh = energyFigure(plan, run, voltageMeanV, durationSdS)
  const gapShare = durationS > 0 ? run.energy.gapS / durationS : 1
  const edgesKnown = run.startKnown && run.endKnown
  const whPerL = divide(energyWh, water.volume)
  const minutes: Figure = { value: durationS / 60, sd: durationSdS / 60 }
  const cycle: FillCycle = {
    start: run.start,
    end,
    durationS,
    durationSdS,
    volumeL: water.volume,
    energyWh,
    flowLMin: edgesKnown ? divide(water.volume, minutes) : null,
    whPerL,
    currentMeanA: run.energy.seconds > 0 && durationS > 0 ? run.energy.as / durationS : null,
    voltageMeanV,
    voltageMinV: run.vN > 0 ? run.vMin : null,
    levelStartM: water.levelStartM,
    levelEndM: water.levelEndM,
    firstRiseS: run.firstRiseS,
    endReason: reason,
    complete:
      edgesKnown &&
      !wasBroken(state) &&
      gapShare <= GAP_SHARE_MAX &&
      (reason === 'full' || reason === 'manual') &&
      energyWh !== null &&
      water.volume !== null &&
      water.volume.value > 5 * water.volume.sd,
  }
  return { cycle, drawL: water.drawL }
}

function energyFigure(plan: SitePlan, run: Run, meanV: number | null, edgesS: number): Figure | null {
  const { energy } = run
  if (!energy.known || meanV === null || energy.seconds <= 0) return null
  const value = energy.ws / 3600
  const meanA = energy.as / energy.seconds
  const gain = value * Math.hypot(plan.currentGainSd, plan.voltageGainSd)
  const zero = (0.25 * plan.currentSd * meanV * energy.seconds) / 3600
  const edges = (meanA * meanV * edgesS) / 3600
  return { value, sd: Math.hypot(gain, zero, edges) }
}

/** Takes a complete fill into what is usual here. */
export function learnFrom(state: EngineState, run: Run, cycle: FillCycle): void {
  if (cycle.complete && cycle.whPerL !== null) {
    state.lastWhPerL.push(cycle.whPerL.value)
    if (state.lastWhPerL.length > 3) state.lastWhPerL.shift()
  }
  if (!cycle.complete || cycle.endReason !== 'full') return
  const u = state.usual
  state.completeFills += 1
  if (run.currents.length >= 5) learn(u.currentA, median(run.currents))
  else if (cycle.currentMeanA !== null && u.currentA.cached === null) learn(u.currentA, cycle.currentMeanA)
  if (cycle.voltageMeanV !== null) learn(u.voltageV, cycle.voltageMeanV)
  if (cycle.flowLMin !== null) learn(u.flowLMin, cycle.flowLMin.value)
  if (run.rateLMin !== null && cycle.voltageMeanV !== null) learn(u.ratePerV, run.rateLMin / cycle.voltageMeanV)
  if (cycle.whPerL !== null) learn(u.whPerL, cycle.whPerL.value)
  // The last part of a fill that rests of the well have broken up says nothing of where fills begin and how long they are.
  if (!goesOnAfterRest(state, run)) {
    if (cycle.volumeL !== null) learn(u.volumeL, cycle.volumeL.value)
    learn(u.durationS, cycle.durationS)
    if (cycle.levelStartM !== null) learn(u.startLevelM, cycle.levelStartM)
  }
  if (cycle.levelEndM !== null) learn(u.endLevelM, cycle.levelEndM)
  if (run.reachedAt !== null) learn(u.startWindowS, (run.reachedAt - run.firstOn) / 1000)
  if (cycle.firstRiseS !== null) learn(u.firstRiseS, cycle.firstRiseS)
}

/** Wire-to-water efficiency over the last fills, 0…1; null without lift or fills. */
export function efficiency(plan: SitePlan, state: EngineState): number | null {
  const { liftM } = plan.site.well
  if (liftM === null || state.lastWhPerL.length < 3) return null
  return hydraulicFloorWhPerL(liftM) / median(state.lastWhPerL)
}
