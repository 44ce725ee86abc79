import type { Ms } from '../../model/time.js'

/** The runs of a slow well between two full tanks, and what earlier such times were like. */
export type EpisodeState = {
  since: Ms | null
  starts: number
  rests: number
  /** End of the latest run of the episode. */
  lastEnd: Ms | null
  /** Brought by the runs after the first, litres, and the variance of that; null: a run whose water is not known. */
  litres: number
  litresVar: number
  counted: number
  restMs: number
  elapsedMs: number
  /** The latest dry end was no other than usual. */
  asUsual: boolean
  /** Seconds of water and of light current of such runs. */
  waterS: number[]
  lightS: number[]
  /** Of episodes that are over: when, and litres per hour of rest. */
  pastT: Ms[]
  pastLH: number[]
}

/** How often the pump's current has come and gone lately. */
export type ChatterState = {
  on: boolean
  flips: Ms[]
  /** Flips within the run under way. */
  ofRun: number
  since: Ms | null
}

export type EpisodesState = { slow: EpisodeState; chatter: ChatterState }

export function createEpisode(): EpisodesState {
  return {
    slow: {
      since: null,
      starts: 0,
      rests: 0,
      lastEnd: null,
      litres: 0,
      litresVar: 0,
      counted: 0,
      restMs: 0,
      elapsedMs: 0,
      asUsual: false,
      waterS: [],
      lightS: [],
      pastT: [],
      pastLH: [],
    },
    chatter: { on: false, flips: [], ofRun: 0, since: null },
  }
}
