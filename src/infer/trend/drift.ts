/** Whether one quantity has moved away from its baseline: CUSUM finds the change, EWMA says that it lasts. */
import { DAY, type Ms } from '../../model/time.js'
import { CUSUM_START, nextCusum } from './cusum.js'
import { nextEwma } from './ewma.js'

export type DriftState = {
  up: number
  down: number
  /** Exponentially weighted mean of the deviation, a difference of logarithms. */
  mean: number
  /** First point since either sum last stood at 0. */
  upFrom: Ms | null
  downFrom: Ms | null
  /** −1 fallen, +1 risen, 0 neither. */
  moved: -1 | 0 | 1
  since: Ms | null
}

export function createDrift(): DriftState {
  return { up: 0, down: 0, mean: 0, upFrom: null, downFrom: null, moved: 0, since: null }
}

/**
 * k, h (in standard deviations) and the weight of the EWMA. k is half the shift to be found: 10 % is two standard
 * deviations or more where single fills are sure to 5 %, about one where they are not. Mean run length of one side when
 * nothing moves, by Siegmund's approximation: some 15,000 points (1; 4) and 19,000 (0.5; 8).
 */
export const SHARP = { k: 1, h: 4, weight: 0.3 } as const
export const BLUNT = { k: 0.5, h: 8, weight: 0.1 } as const
const SHARP_SD_MAX = 0.0525

export type Design = typeof SHARP | typeof BLUNT

export function designFor(sd: number): Design {
  return sd <= SHARP_SD_MAX ? SHARP : BLUNT
}

/** One odd fill counts for no more than this, so that it takes three in a row to tell. */
export const CLIP = 3
/** Of the quickest of six, which is hardly ever odd, two are enough. */
export const CLIP_QUICKEST = 4.5
/** A smaller mean shift is not worth a word; half of it ends one that was told. */
const LEAST = 0.05
/** Sums are held at twice their limit, so that a long change does not take as long to be forgotten. */
const HELD_AT = 2
/**
 * Water tables and temperatures move with the year. The older the baseline, the more of a deviation is left to the
 * season: 1 % in 30 days, 4 % at most [common practice].
 */
const SEASON_PER_DAY = 0.01 / 30
const SEASON_MOST = 0.04

/** The part of a deviation that the season may explain, for a baseline that ended so long ago. */
export function seasonShare(ageMs: number): number {
  return Math.min(SEASON_MOST, Math.max(0, (ageMs / DAY) * SEASON_PER_DAY))
}

/**
 * Takes the deviation of the next fill.
 *
 * @param off difference of logarithms from the baseline
 * @param sd standard deviation of this deviation
 * @param season what is left to the season
 * @param most no deviation counts for more, in standard deviations
 */
export function takeDeviation(drift: DriftState, t: Ms, off: number, sd: number, season: number, most = CLIP): void {
  const design = designFor(sd)
  const beyond = Math.sign(off) * Math.max(0, Math.abs(off) - season)
  const z = Math.max(-most, Math.min(most, beyond / sd))
  const next = nextCusum(drift, z, 0, design.k)
  drift.upFrom = next.up === 0 ? null : (drift.upFrom ?? t)
  drift.downFrom = next.down === 0 ? null : (drift.downFrom ?? t)
  drift.up = Math.min(HELD_AT * design.h, next.up)
  drift.down = Math.min(HELD_AT * design.h, next.down)
  const held = Math.max(-(most + 1) * sd, Math.min((most + 1) * sd, off))
  drift.mean = nextEwma(drift.mean, held, design.weight)
  if (drift.moved !== 0 && drift.moved * drift.mean < LEAST / 2) settle(drift)
  if (drift.moved === 0) find(drift, design)
}

/** Back at its usual: what was summed belongs to a story that has ended. */
function settle(drift: DriftState): void {
  drift.moved = 0
  drift.since = null
  Object.assign(drift, CUSUM_START, { upFrom: null, downFrom: null })
}

function find(drift: DriftState, design: Design): void {
  if (drift.down > design.h && drift.mean <= -LEAST) {
    drift.moved = -1
    drift.since = drift.downFrom
  } else if (drift.up > design.h && drift.mean >= LEAST) {
    drift.moved = 1
    drift.since = drift.upFrom
  }
}

/** Half-way to a word: such a fill does not become part of what is usual. */
export function isStirring(drift: DriftState, sd: number): boolean {
  return drift.moved !== 0 || Math.max(drift.up, drift.down) > designFor(sd).h / 2
}
