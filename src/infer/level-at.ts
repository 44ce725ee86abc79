/** The level at one end of a few readings. */
import type { Ms } from '../model/time.js'
import { fitLine, median } from './stats.js'

/**
 * Level at `at`, m: the median of the readings, or where they plainly rise or fall (somebody draws) the end of their
 * line. Needs at least one reading.
 */
export function levelAtEnd(t: readonly Ms[], v: readonly number[], at: Ms): number {
  const seconds = t.map((one) => (one - at) / 1000)
  const fitted = v.length >= 5 ? fitLine(seconds, v) : null
  if (fitted !== null && Math.abs(fitted.slope) > 3 * fitted.slopeSd) return fitted.intercept
  return median(v)
}
