/**
 * What the pump gave when it was well: the first fit fills since the last new baseline, at a reference voltage. All in
 * logarithms, so that a deviation is a share.
 */
import { MAD_TO_SD, median, quantile } from '../stats.js'
import type { Ms } from '../../model/time.js'

/** One fill (or the quickest of several): logarithms of l/min, Wh per litre, V and A, and the rate's own relative sd. */
export type FillPoint = {
  readonly t: Ms
  readonly y: number
  readonly w: number
  readonly v: number
  readonly i: number
  readonly sd: number
}

export type Baseline = {
  readonly fills: number
  readonly from: Ms
  readonly to: Ms
  /** Reference voltage, and yield, energy and current there. */
  readonly v: number
  readonly y: number
  readonly w: number
  readonly i: number
  /** Per cent of change for each per cent of voltage. */
  readonly yPerV: number
  readonly wPerV: number
  readonly ySd: number
  readonly wSd: number
}

/** A baseline is complete with so many fills, and serves from so many on. */
export const BASE_FILLS = 24
export const BASE_LEAST = 8
/** With probes only a fill shows the pump's rate only when nobody draws: it takes more to have seen quiet ones. */
export const BASE_LEAST_PROBES = 12
/** The quickest of so many fills stands for all of them where draws hide the rate. */
export const QUICKEST_OF = 6

/**
 * Lower bounds of the standard deviations, as shares: a site that happens to be quiet must not become hypersensitive.
 * They are some three times what healthy months show.
 */
const SD_LEAST = 0.025
const SD_LEAST_PROBES = 0.035
/** How far the voltage's part may be off what is expected of a displacement pump (yield with V, energy not), as an sd. */
const PRIOR_SD = 0.3
const PER_V_LEAST = -1
const PER_V_MOST = 3
const SLOPE_ROUNDS = 3
const SCATTER_LEAST = 0.005
/** The middle of the largest of six lies at this quantile of the single ones: 6/7 (mean rank of the maximum, n/(n + 1)). */
const QUICK_QUANTILE = QUICKEST_OF / (QUICKEST_OF + 1)

/** Works the baseline out anew from its points; null while there are none. */
export function fitBaseline(points: readonly FillPoint[], probes: boolean): Baseline | null {
  const first = points[0]
  const last = points.at(-1)
  if (first === undefined || last === undefined) return null
  const volts = points.map((one) => one.v)
  const v = median(volts)
  const yields = points.map((one) => one.y)
  const energies = points.map((one) => one.w)
  const yPerV = perVolt(volts, yields, v, 1)
  const wPerV = perVolt(volts, energies, v, 0)
  const y = centred(volts, yields, v, yPerV, probes ? QUICK_QUANTILE : null)
  const w = centred(volts, energies, v, wPerV, probes ? 1 - QUICK_QUANTILE : null)
  const least = probes ? SD_LEAST_PROBES : SD_LEAST
  return {
    fills: points.length,
    from: first.t,
    to: last.t,
    v,
    y: y.centre,
    w: w.centre,
    i: median(points.map((one) => one.i)),
    yPerV,
    wPerV,
    ySd: Math.max(least, y.sd),
    wSd: Math.max(least, w.sd),
  }
}

/**
 * Slope on the voltage by least squares, drawn towards what is expected, as a small spread of voltages says little. How
 * strongly depends on the scatter about the slope itself, so a few rounds are needed.
 */
function perVolt(volts: readonly number[], values: readonly number[], v: number, expected: number): number {
  const centre = median(values)
  let slope = expected
  for (let round = 0; round < SLOPE_ROUNDS; round += 1) {
    const left = values.map((one, k) => one - centre - slope * ((volts[k] ?? v) - v))
    const middle = median(left)
    const sd = Math.max(SCATTER_LEAST, MAD_TO_SD * median(left.map((one) => Math.abs(one - middle))))
    let weight = 1 / PRIOR_SD ** 2
    let sum = expected / PRIOR_SD ** 2
    for (let k = 0; k < values.length; k += 1) {
      const dv = (volts[k] ?? v) - v
      sum += (dv * ((values[k] ?? centre) - centre)) / sd ** 2
      weight += (dv * dv) / sd ** 2
    }
    slope = Math.min(PER_V_MOST, Math.max(PER_V_LEAST, sum / weight))
  }
  return slope
}

function centred(
  volts: readonly number[],
  values: readonly number[],
  v: number,
  slope: number,
  at: number | null,
): { centre: number; sd: number } {
  const left = values.map((one, k) => one - slope * ((volts[k] ?? v) - v))
  const middle = median(left)
  // The spread of few is itself unsure, and errs low as often as high.
  const few = 1 + 3 / values.length
  if (at === null) return { centre: middle, sd: few * MAD_TO_SD * median(left.map((one) => Math.abs(one - middle))) }
  const best = quantile(left, at)
  const far = at > 0.5 ? quantile(left, 1) - quantile(left, 0.6) : quantile(left, 0.4) - quantile(left, 0)
  return { centre: best, sd: (few * far) / 2 }
}

/** Deviation of a point from the baseline at the reference voltage, as a difference of logarithms. */
export function yieldOff(base: Baseline, point: FillPoint): number {
  return point.y - base.y - base.yPerV * (point.v - base.v)
}

export function energyOff(base: Baseline, point: FillPoint): number {
  return point.w - base.w - base.wPerV * (point.v - base.v)
}
