/** Robust slope of a line through scattered points, and the fall of a level with draws taken out. */
import { median, quantileSorted } from '../stats.js'

export type RobustLine = {
  readonly slope: number
  readonly intercept: number
  /** 95 % interval of the slope by Sen's method. */
  readonly low: number
  readonly high: number
}

/** Two-sided 95 % point of the normal distribution. */
const Z95 = 1.959963984540054

/**
 * Theil–Sen: the median of the slopes between all pairs of points; the intercept is the median of y − slope · x.
 * The interval is Sen's (1968), from the ranks of the slopes by the normal approximation of Kendall's score. Pairs
 * with equal x are left out. Null for fewer than two distinct x. For some dozens of points: it takes n² / 2 pairs.
 */
export function theilSen(x: readonly number[], y: readonly number[]): RobustLine | null {
  const n = Math.min(x.length, y.length)
  const slopes: number[] = []
  for (let i = 0; i < n; i += 1) {
    for (let j = i + 1; j < n; j += 1) {
      const dx = (x[j] ?? 0) - (x[i] ?? 0)
      if (dx !== 0) slopes.push(((y[j] ?? 0) - (y[i] ?? 0)) / dx)
    }
  }
  if (slopes.length === 0) return null
  slopes.sort((a, b) => a - b)
  const slope = quantileSorted(slopes, 0.5)
  const score = Z95 * Math.sqrt((n * (n - 1) * (2 * n + 5)) / 18)
  const below = Math.max(0, Math.round((slopes.length - score) / 2) - 1)
  const above = Math.min(slopes.length - 1, Math.round((slopes.length + score) / 2))
  return {
    slope,
    intercept: median(x.slice(0, n).map((at, i) => (y[i] ?? 0) - slope * at)),
    low: slopes[below] ?? slope,
    high: slopes[above] ?? slope,
  }
}

export type QuietFall = {
  /** Fall per interval with the draws taken out, and its standard uncertainty. */
  readonly perStep: number
  readonly perStepSd: number
  /** Intervals that were no draw, draws, and how many intervals ago the newest draw was (the length where none was). */
  readonly quiet: number
  readonly draws: number
  readonly sinceDraw: number
  /** Whether the fall goes on evenly through all parts of the stretch. */
  readonly even: boolean
  /** Scatter of the falls that were no draw against what the noise makes: 1 for a stream, more for many small uses. */
  readonly roughness: number
}

/** Each part must show at least this share of its due, and at most this multiple. */
const PART_LEAST = 0.4
const PART_MOST = 2
const PARTS_LEAST = 4
/** More parts than this would find a gap in any noise. */
const PARTS_MOST = 6
const PART_STEPS_LEAST = 3

/**
 * How fast a level falls between draws. `falls` are the falls from one mean to the next, oldest first; a fall that
 * stands out above the median by `drawL` is a draw. What is left must go on evenly: people pause, a leak does not.
 *
 * @param sd standard deviation of one mean
 */
export function quietFall(falls: readonly number[], sd: number, drawL: number): QuietFall {
  const middle = falls.length > 0 ? median(falls) : 0
  let sum = 0
  let squares = 0
  let quiet = 0
  let sinceDraw = falls.length
  for (let i = 0; i < falls.length; i += 1) {
    const fall = falls[i] ?? 0
    if (fall > middle + drawL) sinceDraw = falls.length - 1 - i
    else {
      sum += fall
      squares += fall * fall
      quiet += 1
    }
  }
  const draws = falls.length - quiet
  const perStep = quiet > 0 ? sum / quiet : 0
  const perStepSd = quiet > 0 ? (sd * Math.SQRT2 * Math.sqrt(1 + draws)) / quiet : Number.POSITIVE_INFINITY
  const scatter = quiet > 1 ? Math.sqrt(Math.max(0, squares - quiet * perStep * perStep) / (quiet - 1)) : 0
  const even = isEven(falls, middle + drawL, perStep, sd)
  return { perStep, perStepSd, quiet, draws, sinceDraw, even, roughness: scatter / (sd * Math.SQRT2) }
}

/** Parts are as long as the noise needs to be a quarter of what should have fallen in them. */
function isEven(falls: readonly number[], draw: number, perStep: number, sd: number): boolean {
  if (perStep <= 0) return false
  const quietLength = Math.ceil((4 * sd * Math.SQRT2) / perStep)
  const length = Math.max(PART_STEPS_LEAST, quietLength, Math.floor(falls.length / PARTS_MOST))
  const parts = Math.floor(falls.length / length)
  if (parts < PARTS_LEAST) return false
  const start = falls.length - parts * length
  for (let part = 0; part < parts; part += 1) {
    let sum = 0
    let n = 0
    for (let k = 0; k < length; k += 1) {
      const fall = falls[start + part * length + k] ?? 0
      if (fall > draw) continue
      sum += fall
      n += 1
    }
    if (n > 0 && (sum < PART_LEAST * perStep * n || sum > PART_MOST * perStep * n)) return false
  }
  return true
}
