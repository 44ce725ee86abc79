/** Gaps in what each board says, and readings that no battery or pump can give. Plain and bounded. */
import type { Ms } from '../../model/time.js'

export type BoardTrouble = {
  /** Usual time between two of its samples, s. */
  periodS: number
  /** Latest gap: from the last sample before it to the first after it. */
  gapFrom: Ms
  gapTo: Ms
  /** Ends of the gaps of the last hour, the newest 40. */
  gaps: Ms[]
  /** Usual gaps in an hour, followed slowly while nothing is wrong. */
  usualGaps: number
  /** Latest starts of the well pump: 1 where this board was gone at the start. */
  resets: number[]
  resetAt: Ms[]
}

export type BoardTroublesState = {
  boards: BoardTrouble[]
  hour: number
  /** Latest reading that cannot be, of battery voltage and pump current: against nominal or usual. */
  oddVolts: number | null
  oddAmps: number | null
  /** Start of the run whose beginning has been looked at. */
  startSeen: Ms
  /** Battery voltage to the digit, since when. */
  sameV: number
  sameVSince: Ms
}

export function createBoardTroubles(boards: number): BoardTroublesState {
  return {
    boards: Array.from({ length: boards }, () => ({
      periodS: 0,
      gapFrom: 0,
      gapTo: 0,
      gaps: [],
      usualGaps: 0,
      resets: [],
      resetAt: [],
    })),
    hour: 0,
    oddVolts: null,
    oddAmps: null,
    startSeen: 0,
    sameV: Number.NEGATIVE_INFINITY,
    sameVSince: 0,
  }
}
