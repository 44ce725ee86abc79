/**
 * How strongly one reading speaks for one cause: the logarithm (base 10) of how much likelier the reading is under the
 * cause than if nothing were known. 0: it says nothing; 1: ten times likelier; bounded, so that no single reading,
 * which may be a sensor's fault, ever decides alone.
 */

/** What a reading may be under a cause: anything between, no value preferred. */
export type Band = readonly [low: number, high: number]

/** A cause's band is wrong this often: odd pumps, odd wells, odd sensors. */
const ODD = 0.1
/** No reading speaks more strongly than this, for or against. */
export const SUPPORT_MAX = 1.2

/** Standard normal distribution function (Abramowitz & Stegun 7.1.26, error below 1.5e-7). */
export function normalCdf(z: number): number {
  const x = Math.abs(z) / Math.SQRT2
  const t = 1 / (1 + 0.3275911 * x)
  const poly = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t
  const erf = 1 - poly * Math.exp(-x * x)
  return z >= 0 ? (1 + erf) / 2 : (1 - erf) / 2
}

/** Density of a reading with normal doubt `sd` whose true value lies anywhere in the band. */
function density(value: number, sd: number, [low, high]: Band): number {
  return (normalCdf((high - value) / sd) - normalCdf((low - value) / sd)) / (high - low)
}

/**
 * Support that a reading gives to a cause.
 *
 * @param range all that the reading can be; the yardstick of "nothing known"
 */
export function supportOf(value: number, sd: number, band: Band, range: Band): number {
  const doubt = Math.max(sd, 1e-6)
  const background = 1 / (range[1] - range[0])
  const likelihood = (1 - ODD) * density(value, doubt, band) + ODD * background
  return bounded(Math.log10(likelihood / background))
}

/** The same for a yes or no, from how often it is yes under the cause and how often in general. */
export function supportOfSign(is: boolean, oftenYes: number, generally: number): number {
  const p = (1 - ODD) * oftenYes + ODD * generally
  return bounded(Math.log10(is ? p / generally : (1 - p) / (1 - generally)))
}

function bounded(support: number): number {
  return Math.min(SUPPORT_MAX, Math.max(-SUPPORT_MAX, support))
}
