/** Exponentially weighted moving average (Roberts 1959; NIST/SEMATECH e-Handbook 6.3.2.4). */

/** The mean after the next value: weight · value + (1 − weight) · before. */
export function nextEwma(before: number, value: number, weight: number): number {
  return weight * value + (1 - weight) * before
}

/** Half-width of the control limits once the start is forgotten: width · sd · √(weight / (2 − weight)). */
export function ewmaLimit(sd: number, weight: number, width = 3): number {
  return width * sd * Math.sqrt(weight / (2 - weight))
}
