/** The shown span as a table for other programs: RFC 4180, SI, UTC and the site's own time. Pure. */
import { formatLocalDateTime } from '../../model/format.js'
import type { SeriesBody } from '../bodies/series.js'
import { csvLine } from '../files/csv.js'

const COLUMNS = ['from', 'to', 'from_local', 'name', 'least', 'mean', 'greatest', 'samples', 'unit']

/** A stretch in which nothing was heard stands with empty figures and 0 samples. */
export function spanCsv(bodies: readonly SeriesBody[], zone: string): string {
  const lines = bodies.flatMap((body) =>
    body.rows.map((row) =>
      csvLine([
        row.t0,
        row.t1,
        formatLocalDateTime(Date.parse(row.t0), zone),
        body.role,
        row.min,
        row.mean,
        row.max,
        row.n,
        body.unit,
      ]),
    ),
  )
  return csvLine(COLUMNS) + lines.join('')
}
