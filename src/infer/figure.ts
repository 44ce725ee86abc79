/** Arithmetic on figures with their standard uncertainty: JCGM 100:2008 (GUM), 5.1, inputs taken as uncorrelated. */
import type { Figure } from '../model/fill.js'

/** Sum: absolute uncertainties add in quadrature. Unknown if either is. */
export function add(a: Figure | null, b: Figure | null): Figure | null {
  if (a === null || b === null) return null
  return { value: a.value + b.value, sd: Math.hypot(a.sd, b.sd) }
}

/** Quotient: relative uncertainties add in quadrature (5.1.6). Unknown if either is, or for a divisor within 2 sd of 0. */
export function divide(a: Figure | null, b: Figure | null): Figure | null {
  if (a === null || b === null || Math.abs(b.value) <= 2 * b.sd || b.value === 0) return null
  const value = a.value / b.value
  const relative = a.value === 0 ? 0 : a.sd / a.value
  const sd = a.value === 0 ? Math.abs(a.sd / b.value) : Math.abs(value) * Math.hypot(relative, b.sd / b.value)
  return { value, sd }
}

/** A figure times an exact number. */
export function scale(a: Figure | null, by: number): Figure | null {
  return a === null ? null : { value: a.value * by, sd: a.sd * Math.abs(by) }
}
