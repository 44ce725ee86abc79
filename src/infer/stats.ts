/**
 * The few statistics that the engine needs, on plain arrays, without allocation where a caller is in a hurry.
 * Checked in tests/published against NIST StRD data and the simple-statistics library.
 */

/** Scale that makes the median absolute deviation estimate σ of a normal sample: 1/Φ⁻¹(3/4). */
export const MAD_TO_SD = 1.482602218505602

/**
 * Quantile by linear interpolation of order statistics (type 7 of Hyndman & Fan 1996, the default of R).
 * `sorted` ascending, not empty; p in 0…1.
 */
export function quantileSorted(sorted: readonly number[], p: number): number {
  if (sorted.length === 0) throw new RangeError('quantile of no values')
  const h = (sorted.length - 1) * p
  const below = Math.floor(h)
  const low = sorted[below] ?? Number.NaN
  const high = sorted[Math.min(below + 1, sorted.length - 1)] ?? low
  return low + (h - below) * (high - low)
}

/** Up to so many values, putting each into its place is quicker than the general sort with its calls. */
const FEW = 24

function sortFew(values: number[]): void {
  for (let i = 1; i < values.length; i += 1) {
    const value = values[i] ?? 0
    let at = i
    for (; at > 0; at -= 1) {
      const before = values[at - 1] ?? 0
      if (before <= value) break
      values[at] = before
    }
    values[at] = value
  }
}

/** Quantile, type 7, of values in any order. */
export function quantile(values: readonly number[], p: number): number {
  const sorted = values.slice()
  if (sorted.length <= FEW) sortFew(sorted)
  else sorted.sort(ascending)
  return quantileSorted(sorted, p)
}

/** Median (type 7, p = 0.5). */
export function median(values: readonly number[]): number {
  return quantile(values, 0.5)
}

/** Median absolute deviation from the median, not scaled. */
export function medianAbsoluteDeviation(values: readonly number[]): number {
  const centre = median(values)
  return median(values.map((value) => Math.abs(value - centre)))
}

/** Mean and sample standard deviation (n − 1) by Welford's recurrence, which does not cancel. */
export function meanAndSd(values: readonly number[]): { readonly mean: number; readonly sd: number } {
  let mean = 0
  let sum = 0
  let n = 0
  for (const value of values) {
    n += 1
    const delta = value - mean
    mean += delta / n
    sum += delta * (value - mean)
  }
  return { mean, sd: n > 1 ? Math.sqrt(sum / (n - 1)) : Number.NaN }
}

export type Line = {
  readonly slope: number
  readonly intercept: number
  readonly slopeSd: number
  readonly interceptSd: number
  readonly residualSd: number
}

/** Least-squares line; centred sums, so that large offsets (epoch times) do no harm. Needs two distinct x. */
export function fitLine(x: readonly number[], y: readonly number[]): Line | null {
  const n = Math.min(x.length, y.length)
  if (n < 2) return null
  let meanX = 0
  let meanY = 0
  for (let i = 0; i < n; i += 1) {
    meanX += (x[i] ?? 0) / n
    meanY += (y[i] ?? 0) / n
  }
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < n; i += 1) {
    const dx = (x[i] ?? 0) - meanX
    sxx += dx * dx
    sxy += dx * ((y[i] ?? 0) - meanY)
  }
  if (sxx === 0) return null
  const slope = sxy / sxx
  const intercept = meanY - slope * meanX
  let sse = 0
  for (let i = 0; i < n; i += 1) {
    const residual = (y[i] ?? 0) - meanY - slope * ((x[i] ?? 0) - meanX)
    sse += residual * residual
  }
  const residualSd = n > 2 ? Math.sqrt(sse / (n - 2)) : Number.NaN
  const slopeSd = residualSd / Math.sqrt(sxx)
  return { slope, intercept, slopeSd, interceptSd: residualSd * Math.sqrt(1 / n + (meanX * meanX) / sxx), residualSd }
}

function ascending(a: number, b: number): number {
  return a - b
}
