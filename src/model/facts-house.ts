/** The pressure pump after the tank, as one look finds it. Null is "not known". */
import type { Ms } from './time.js'

/** Starts that come like clockwork while nobody draws. */
export type RegularStarts = {
  /** The first of them. */
  readonly since: Ms
  readonly count: number
  readonly intervalS: number
  /** Half of the span between the shortest and the longest pause from start to start. */
  readonly spreadS: number
  readonly runS: number
}

export type HouseFacts = {
  /** The site has a signal of this pump, and it is fresh. */
  known: boolean
  /** By its current; null: not measured. */
  running: boolean | null
  runningSince: Ms | null
  currentA: number | null
  pressurePa: number | null
  /** Starts seen in the last 30 min: two within one sampling interval are seen as one. */
  startsIn30Min: number
  /** Mean length of those runs. */
  meanRunS: number | null
  /** First of the starts of the last 30 min. */
  firstStart: Ms | null
  /** Median time from start to start of these, s; null: fewer than eight. */
  pauseS: number | null
  /** The shortest of the last eight runs, whenever they were; null: fewer. */
  shortestRunS: number | null
  regular: RegularStarts | null
  /** Since when the pressure has stayed far below where the pump usually starts. */
  lowSince: Ms | null
  /** Since when it has stayed far above where the pump usually stops. */
  highSince: Ms | null
  /** Usual of this pump, from days without trouble; null: fewer than three such days. */
  usualRunS: number | null
  usualLongestRunS: number | null
  /** Tenth part of the times from start to start: how soon they follow each other while water is drawn. */
  usualPauseS: number | null
  usualStartsADay: number | null
  /** Starts in the busiest hour of a usual day. */
  usualBusyHour: number | null
  usualA: number | null
  /** Lowest and highest pressure as samples see them, which is within the marks of the switch. */
  usualLowPa: number | null
  usualHighPa: number | null
  /** Days that this rests on. */
  days: number
}

export function emptyHouseFacts(): HouseFacts {
  return {
    known: false,
    running: null,
    runningSince: null,
    currentA: null,
    pressurePa: null,
    startsIn30Min: 0,
    meanRunS: null,
    firstStart: null,
    pauseS: null,
    shortestRunS: null,
    regular: null,
    lowSince: null,
    highSince: null,
    usualRunS: null,
    usualLongestRunS: null,
    usualPauseS: null,
    usualStartsADay: null,
    usualBusyHour: null,
    usualA: null,
    usualLowPa: null,
    usualHighPa: null,
    days: 0,
  }
}
