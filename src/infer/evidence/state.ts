import type { Ms } from '../../model/time.js'
import type { PowerLine } from './power.js'

/** What one run shows, kept until the next begins: an alarm for the end of a run still has its readings. */
export type RunEvidence = {
  start: Ms | null
  powerW: number | null
  usualW: number | null
  usualSdW: number | null
  huntShare: number | null
  creepShare: number | null
  riseShare: number | null
  riseShareSd: number | null
  firstRiseShare: number | null
  unasked: boolean | null
  startLevelM: number | null
}

export type EvidenceState = {
  /** Settled watts and mean volts of the last complete fills. */
  watts: number[]
  volts: number[]
  line: PowerLine | null
  /** Spread of the current in sound runs, as a slow mean, and of how many looks. */
  huntMean: number
  huntN: number
  run: RunEvidence
}

export function createEvidence(): EvidenceState {
  return { watts: [], volts: [], line: null, huntMean: 0, huntN: 0, run: noEvidence(null) }
}

export function noEvidence(start: Ms | null): RunEvidence {
  return {
    start,
    powerW: null,
    usualW: null,
    usualSdW: null,
    huntShare: null,
    creepShare: null,
    riseShare: null,
    riseShareSd: null,
    firstRiseShare: null,
    unasked: null,
    startLevelM: null,
  }
}
