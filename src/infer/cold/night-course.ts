/**
 * The course of a night after two hours past sunset: T(h) = T₂ + b·√(h − 2), b = (T_min − T₂)/√(n − 2), h hours after
 * sunset, n hours from sunset to sunrise. Snyder and de Melo-Abreu, Frost Protection, vol. 1, FAO 2005, ch. 5.
 */

/** Share of the fall from two hours after sunset that has happened `h` hours after sunset, 0…1. */
export function fallenShare(h: number, nightH: number): number {
  if (!(nightH > 2)) throw new RangeError(`night: found ${nightH} h from sunset to sunrise, expected more than 2 h`)
  return Math.sqrt(Math.min(1, Math.max(0, (h - 2) / (nightH - 2))))
}

/** Temperature `h` hours after sunset. Throws where the night is too short or would end warmer than it began. */
export function courseAt(t2C: number, minC: number, nightH: number, h: number): number {
  if (!(minC <= t2C)) throw new RangeError(`night: found a minimum of ${minC} °C, expected at most ${t2C} °C`)
  return t2C + (minC - t2C) * fallenShare(h, nightH)
}

/** Hours after sunset at which the course passes `c`; null: it does not in this night. */
export function crossesAt(t2C: number, minC: number, nightH: number, c: number): number | null {
  if (c > t2C || c < minC || minC === t2C) return null
  if (!(nightH > 2)) throw new RangeError(`night: found ${nightH} h from sunset to sunrise, expected more than 2 h`)
  return 2 + (nightH - 2) * ((c - t2C) / (minC - t2C)) ** 2
}
