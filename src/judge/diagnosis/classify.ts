/**
 * From readings to causes: naive Bayes over the diagnosis table. Each reading adds its support to each cause; what is
 * left is a ranking, and a name only where one cause, or one group that looks the same from outside, stands out.
 */
import { supportOf, supportOfSign } from './likelihood.js'
import { NUMBERS, RANGES, type ReadingName, type Readings, SIGNS } from './readings.js'
import { GENERALLY, type GroupId, type Row, type RowId, ROWS } from './rows.js'

/** What one reading says of one cause: decimal logarithm of a likelihood ratio; above 0 for it, below against it. */
export type Support = {
  readonly reading: ReadingName
  readonly support: number
  /** What a sign said; null for a number. */
  readonly said: boolean | null
}

export type Ranked = {
  readonly row: Row
  /** Posterior share among the causes weighed, 0…1. */
  readonly share: number
  readonly supports: readonly Support[]
}

export type Diagnosis = {
  /** The likeliest first. */
  readonly ranked: readonly Ranked[]
  /** The one cause that stands out; null: none does. */
  readonly row: RowId | null
  /** The confusion group that stands out, or that the one cause belongs to; null: no group does. */
  readonly group: GroupId | null
}

/** One cause, or one group, is named when it holds at least this much of what is possible. */
const NAMED = 0.8

/**
 * Weighs the causes `among` which an alarm has found one to be at work.
 *
 * A cause of a group is never named alone: what boards measure cannot tell it from its fellows.
 */
export function diagnose(readings: Readings, among: readonly RowId[]): Diagnosis {
  const weighed = ROWS.filter(({ id }) => among.includes(id)).map((row) => {
    const supports = supportsOf(readings, row)
    return { row, supports, total: supports.reduce((sum, one) => sum + one.support, row.common) }
  })
  const top = Math.max(...weighed.map(({ total }) => total))
  const sum = weighed.reduce((all, { total }) => all + 10 ** (total - top), 0)
  const ranked = weighed
    .map(({ row, supports, total }) => ({ row, supports, share: 10 ** (total - top) / sum }))
    .sort((a, b) => b.share - a.share)
  const [first] = ranked
  if (first === undefined) return { ranked, row: null, group: null }
  const { group } = first.row
  const together = ranked.reduce(
    (all, one) => all + (one === first || (group !== null && one.row.group === group) ? one.share : 0),
    0,
  )
  const named = together >= NAMED
  return { ranked, row: named && group === null ? first.row.id : null, group: named ? group : null }
}

function supportsOf(readings: Readings, row: Row): Support[] {
  const supports: Support[] = []
  for (const reading of NUMBERS) {
    const seen = readings.numbers[reading]
    const band = row.numbers[reading]
    if (seen === undefined || band === undefined) continue
    supports.push({ reading, support: supportOf(seen.value, seen.sd, band, RANGES[reading]), said: null })
  }
  for (const reading of SIGNS) {
    const seen = readings.signs[reading]
    const often = row.signs[reading]
    if (seen === undefined || often === undefined) continue
    supports.push({ reading, support: supportOfSign(seen, often, GENERALLY[reading]), said: seen })
  }
  return supports
}
