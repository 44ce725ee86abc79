/** From the API's rows to what a chart and its table show. Pure. */
import type { QuantityKind } from '../../model/alarm.js'
import { formatLocalTime, toPeople } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import { HOUR } from '../../model/time.js'
import type { SeriesRow } from '../bodies/series.js'
import { quantity } from '../words/quantity.js'

/** Seconds, then lowest, highest and mean, in the site's units; nulls break the lines where nothing was heard. */
export type Columns = [number[], (number | null)[], (number | null)[], (number | null)[]]

export function columns(rows: readonly SeriesRow[], kind: QuantityKind, units: UnitSystem): Columns {
  const shown = (value: number | null): number | null => (value === null ? null : toPeople(kind, value, units).value)
  const data: Columns = [[], [], [], []]
  for (const row of rows) {
    data[0].push((Date.parse(row.t0) + Date.parse(row.t1)) / 2000)
    data[1].push(shown(row.min))
    data[2].push(shown(row.max))
    data[3].push(shown(row.mean))
  }
  return data
}

/** One line for each hour: time, lowest, mean, highest, in words; an hour without data says so. */
export function hourly(
  rows: readonly SeriesRow[],
  kind: QuantityKind,
  units: UnitSystem,
  zone: string,
): [string, string, string, string][] {
  const hours = new Map<number, { min: number | null; max: number | null; sum: number; n: number }>()
  for (const row of rows) {
    const last = Math.max(Date.parse(row.t0), Date.parse(row.t1) - 1)
    for (let hour = Math.floor(Date.parse(row.t0) / HOUR); hour <= Math.floor(last / HOUR); hour += 1) {
      const so = hours.get(hour) ?? { min: null, max: null, sum: 0, n: 0 }
      if (row.min !== null) so.min = Math.min(so.min ?? row.min, row.min)
      if (row.max !== null) so.max = Math.max(so.max ?? row.max, row.max)
      if (row.mean !== null) {
        so.sum += row.mean * row.n
        so.n += row.n
      }
      hours.set(hour, so)
    }
  }
  return [...hours.entries()]
    .toSorted((a, b) => b[0] - a[0])
    .map(([hour, so]) => [
      formatLocalTime(hour * HOUR, zone),
      quantity(kind, so.min, units),
      quantity(kind, so.n === 0 ? null : so.sum / so.n, units),
      quantity(kind, so.max, units),
    ])
}
