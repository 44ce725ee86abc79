/** What the engine remembers of the pressure pump of the house. Bounded: 64 starts, 40 runs of today, 14 days. */
import type { Ms } from '../../model/time.js'

/** One start: when, and how long it ran (s; null: it still runs, or its end was not seen). */
export type HouseStart = { t: Ms; runS: number | null; highPa: number | null; lowPa: number | null }

export type HouseDay = {
  runS: number
  longestS: number
  pauseS: number | null
  starts: number
  busyHour: number
  amperes: number | null
  lowPa: number | null
  highPa: number | null
}

export type RegularState = { since: Ms; count: number; intervalS: number; spreadS: number; runS: number }

export type HouseState = {
  /** Latest current, and when; on since the first sample that showed it. */
  a: number
  aT: Ms
  on: boolean
  firstOn: Ms
  lastOn: Ms
  pa: number
  paT: Ms
  /** Extremes since the pressure last turned. */
  lowPa: number
  lowT: Ms
  highPa: number
  highT: Ms
  rising: boolean
  /** Since the last gap in the samples: nothing reaches over one. */
  whole: Ms
  starts: HouseStart[]
  regular: RegularState | null
  lowSince: Ms | null
  highSince: Ms | null
  /** The day under way: its number since 1970 in UTC, runs (thinned), currents, starts, and of the hour under way. */
  day: number
  runs: number[]
  pauses: number[]
  amps: number[]
  startsToday: number
  hour: number
  startsThisHour: number
  busyHour: number
  longestS: number
  /** Something was wrong on this day: it teaches nothing. */
  spoilt: boolean
  days: HouseDay[]
}

export function createHouse(): HouseState {
  return {
    a: 0,
    aT: 0,
    on: false,
    firstOn: 0,
    lastOn: 0,
    pa: 0,
    paT: 0,
    lowPa: 0,
    lowT: 0,
    highPa: 0,
    highT: 0,
    rising: false,
    whole: 0,
    starts: [],
    regular: null,
    lowSince: null,
    highSince: null,
    day: 0,
    runs: [],
    pauses: [],
    amps: [],
    startsToday: 0,
    hour: 0,
    startsThisHour: 0,
    busyHour: 0,
    longestS: 0,
    spoilt: false,
    days: [],
  }
}
