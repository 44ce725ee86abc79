/**
 * What power this pump takes at a voltage, learned from its own fills: log P is a line in log V. A displacement pump
 * draws the same current at any voltage (exponent 1), a centrifugal one nearly P ∝ V³, one behind a constant-power
 * driver the same watts (exponent 0): so watts against voltage tell a weak battery from a dry well where amperes cannot.
 */
import { MAD_TO_SD, median } from '../stats.js'

/** log watts at log volts, the exponent between them, and the doubt of each. */
export type PowerLine = {
  readonly logW: number
  readonly logV: number
  readonly exponent: number
  readonly exponentSd: number
  readonly sd: number
  readonly fills: number
}

/** Before a site's own fills say otherwise: a small displacement pump, give or take [common practice]. */
const PRIOR_EXPONENT = 1
const PRIOR_SD = 0.7
/** Head, temperature and sensors move the watts by this much from fill to fill even where few fills show it. */
const LEAST_SD = 0.015
const FEW = 3
const ROUNDS = 4

/** Bayes' line with a normal prior on the exponent (ridge); centre by medians, so that one odd fill does no harm. */
export function fitPower(watts: readonly number[], volts: readonly number[]): PowerLine | null {
  const n = Math.min(watts.length, volts.length)
  if (n < FEW) return null
  const x = volts.slice(0, n).map(Math.log)
  const y = watts.slice(0, n).map(Math.log)
  const logV = median(x)
  const logW = median(y)
  let sxx = 0
  let sxy = 0
  for (let i = 0; i < n; i += 1) {
    sxx += ((x[i] ?? 0) - logV) ** 2
    sxy += ((x[i] ?? 0) - logV) * ((y[i] ?? 0) - logW)
  }
  const scatter = (exponent: number): number =>
    Math.max(LEAST_SD, MAD_TO_SD * median(y.map((v, i) => Math.abs(v - logW - exponent * ((x[i] ?? 0) - logV)))))
  let exponent = PRIOR_EXPONENT
  let precision = 1 / PRIOR_SD ** 2
  // The scatter about a wrong exponent is no noise: a few rounds and it is about the right one.
  for (let round = 0; round < ROUNDS; round += 1) {
    const noise = scatter(exponent) ** 2
    precision = sxx / noise + 1 / PRIOR_SD ** 2
    exponent = (sxy / noise + PRIOR_EXPONENT / PRIOR_SD ** 2) / precision
  }
  return { logW, logV, exponent, exponentSd: 1 / Math.sqrt(precision), sd: scatter(exponent), fills: n }
}

/** Usual watts at a voltage with their standard uncertainty (one run's scatter and that of the line). */
export function powerAt(line: PowerLine, volts: number): { readonly value: number; readonly sd: number } {
  const dx = Math.log(volts) - line.logV
  const value = Math.exp(line.logW + line.exponent * dx)
  const relative = Math.hypot(line.sd * Math.sqrt(1 + 1.57 / line.fills), dx * line.exponentSd)
  return { value, sd: relative * value }
}
