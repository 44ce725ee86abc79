import { z } from 'zod'
import type { Ms } from '../../model/time.js'
import type { SeriesPoint } from '../source.js'
import { iso, NumberOrNull, numberOrNull, Time } from './common.js'

export const SeriesRow = z
  .object({
    t0: Time,
    t1: Time,
    min: NumberOrNull,
    max: NumberOrNull,
    mean: NumberOrNull,
    n: z.number().describe('Samples in the row; 0 with null figures is a gap'),
  })
  .meta({ id: 'SeriesRow' })
export type SeriesRow = z.infer<typeof SeriesRow>

export const SeriesBody = z
  .object({
    site: z.string(),
    role: z.string(),
    unit: z.string().describe('SI, as RFC 8428 or RFC 8798 names it; empty for contacts (0 dry, 1 wet)'),
    from: Time,
    to: Time,
    expect_every_s: z.number(),
    sd: z.number().describe('Standard uncertainty of one reading in the unit, its absolute part'),
    gain_sd: z.number().describe('Its relative part: both together are the root of the sum of their squares'),
    rows: z.array(SeriesRow),
  })
  .meta({ id: 'Series' })
export type SeriesBody = z.infer<typeof SeriesBody>

/** A silence longer than this many expected intervals is a gap, not a slow board. */
const GAP_INTERVALS = 3

function gap(t0: Ms, t1: Ms): SeriesRow {
  return { t0: iso(t0), t1: iso(t1), min: null, max: null, mean: null, n: 0 }
}

/**
 * The rows of a chart with its silences spoken: wherever more than three expected intervals pass between one bucket
 * and the next, or at either end of [from, until), a row of nulls stands in their place.
 */
export function rowsWithGaps(points: readonly SeriesPoint[], from: Ms, until: Ms, expectEveryS: number): SeriesRow[] {
  const longest = GAP_INTERVALS * expectEveryS * 1000
  const rows: SeriesRow[] = []
  let reached = from
  for (const point of points) {
    if (point.from - reached > longest) rows.push(gap(reached, point.from))
    rows.push({
      t0: iso(point.from),
      t1: iso(point.to),
      min: numberOrNull(point.min),
      max: numberOrNull(point.max),
      mean: numberOrNull(point.mean),
      n: point.n,
    })
    reached = Math.max(reached, point.to)
  }
  if (until - reached > longest) rows.push(gap(reached, until))
  return rows
}
