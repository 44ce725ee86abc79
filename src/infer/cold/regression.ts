/**
 * Tonight's minimum from what is known two hours after sunset. Snyder and de Melo-Abreu (Frost Protection, vol. 1,
 * FAO 2005, ch. 5) regress step by step: the minimum on the temperature, then what is left on the dew point. We go on
 * in the same way with what tells a clear night from a cloudy one. A joint fit gives other coefficients.
 */
import { MAD_TO_SD, median } from '../stats.js'

/** One step: `slope · x + intercept`, of what the steps before it left over. */
export type Step = { readonly slope: number; readonly intercept: number }

/** A column of the table: null where that night lacks it. */
export type Column = readonly (number | null)[]

/** Nights whose residual is beyond this many robust sd count less (Huber's k for 95 % efficiency). */
const HUBER_K = 1.345
const ROUNDS = 6

/**
 * Fits `y` on each column in turn. A step that cannot be fitted (fewer than three values, or all alike) is 0.
 *
 * @param robust false: plain least squares, as in the book
 */
export function fitSteps(y: readonly number[], columns: readonly Column[], robust = true): readonly Step[] {
  let left = [...y]
  return columns.map((column) => {
    const step = fitStep(left, column, robust)
    left = left.map((value, i) => value - addedBy(step, column[i] ?? null))
    return step
  })
}

/** What the steps say for one night; a figure that is not there adds nothing. */
export function predictSteps(steps: readonly Step[], figures: readonly (number | null)[]): number {
  return steps.reduce((sum, step, i) => sum + addedBy(step, figures[i] ?? null), 0)
}

function addedBy({ slope, intercept }: Step, x: number | null): number {
  return x === null ? 0 : slope * x + intercept
}

const NOTHING: Step = { slope: 0, intercept: 0 }

function fitStep(y: readonly number[], column: Column, robust: boolean): Step {
  const xs: number[] = []
  const ys: number[] = []
  column.forEach((x, i) => {
    const value = y[i]
    if (x === null || value === undefined) return
    xs.push(x)
    ys.push(value)
  })
  if (xs.length < 3) return NOTHING
  let weights = xs.map(() => 1)
  let step = weighted(xs, ys, weights)
  for (let round = 0; robust && round < ROUNDS; round += 1) {
    const residuals = ys.map((value, i) => value - addedBy(step, xs[i] ?? 0))
    const sd = MAD_TO_SD * median(residuals.map(Math.abs))
    if (sd <= 1e-9) break
    weights = residuals.map((residual) => Math.min(1, (HUBER_K * sd) / Math.max(Math.abs(residual), 1e-12)))
    step = weighted(xs, ys, weights)
  }
  return step
}

function weighted(xs: readonly number[], ys: readonly number[], weights: readonly number[]): Step {
  let total = 0
  let meanX = 0
  let meanY = 0
  xs.forEach((x, i) => {
    const w = weights[i] ?? 0
    total += w
    meanX += w * x
    meanY += w * (ys[i] ?? 0)
  })
  meanX /= total
  meanY /= total
  let sxx = 0
  let sxy = 0
  xs.forEach((x, i) => {
    const w = weights[i] ?? 0
    sxx += w * (x - meanX) ** 2
    sxy += w * (x - meanX) * ((ys[i] ?? 0) - meanY)
  })
  if (sxx < 1e-9) return { slope: 0, intercept: meanY }
  const slope = sxy / sxx
  return { slope, intercept: meanY - slope * meanX }
}
