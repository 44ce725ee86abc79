/** One number written as text, as a board's print function writes it. */

/** Decimal digits with a point, a sign and an exponent; no hexadecimal, no comma, no unit, no thousands mark. */
const DECIMAL = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/
/** How C, C++, Python and JavaScript print what is no number. */
const NOT_FINITE = /^[+-]?(?:nan|inf|infinity)$/i

/**
 * The number in a text, spaces around it allowed.
 *
 * @returns NaN where the text says that there is no number ("nan", "inf"), null where it cannot be read. An empty
 *   text is null, never 0, and "12,6" is null, as it may be 12.6 or 126.
 */
export function numberIn(text: string): number | null {
  const trimmed = text.trim()
  if (DECIMAL.test(trimmed)) return Number(trimmed)
  return NOT_FINITE.test(trimmed) ? Number.NaN : null
}
