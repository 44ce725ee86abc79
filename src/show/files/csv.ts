/** CSV as RFC 4180 writes it: comma, CRLF, quotes doubled; an unknown figure is an empty field, never 0. */

export type Cell = string | number | boolean | null

/** One line with its CRLF. Text that a spreadsheet would take for a formula is set behind an apostrophe. */
export function csvLine(cells: readonly Cell[]): string {
  return `${cells.map(cell).join(',')}\r\n`
}

function cell(value: Cell): string {
  if (value === null) return ''
  if (typeof value === 'number') return Number.isFinite(value) ? String(value) : ''
  if (typeof value === 'boolean') return value ? 'true' : 'false'
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe
}

/** A figure with so many decimals, without an exponent and without a minus before zero; null stays unknown. */
export function fixed(value: number | null | undefined, digits: number): number | null {
  if (value === null || value === undefined || !Number.isFinite(value)) return null
  const rounded = Number(value.toFixed(digits))
  return rounded === 0 ? 0 : rounded
}

/** ISO 8601, UTC, to the second or finer where it is. */
export function isoTime(t: number | null): string | null {
  if (t === null) return null
  return new Date(t).toISOString().replace('.000Z', 'Z')
}
