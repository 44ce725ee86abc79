/** From the API's rows to what a chart, its reading and its table show. Pure. */
import type { QuantityKind } from '../../model/alarm.js'
import { formatLocalTime, toPeople } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import { DAY, HOUR } from '../../model/time.js'
import type { SeriesBody, SeriesRow } from '../bodies/series.js'
import { quantity } from '../words/quantity.js'
import { dateKey } from '../words/when.js'

/** Seconds, then lowest, highest and mean, in the site's units; nulls break the lines where nothing was heard. */
export type Columns = [number[], (number | null)[], (number | null)[], (number | null)[]]

/** `factor`: from the unit of the rows to the one that `kind` is formatted from. */
export function columns(rows: readonly SeriesRow[], kind: QuantityKind, units: UnitSystem, factor = 1): Columns {
  const shown = (value: number | null): number | null =>
    value === null ? null : toPeople(kind, value * factor, units).value
  const data: Columns = [[], [], [], []]
  for (const row of rows) {
    data[0].push((Date.parse(row.t0) + Date.parse(row.t1)) / 2000)
    data[1].push(shown(row.min))
    data[2].push(shown(row.max))
    data[3].push(shown(row.mean))
  }
  return data
}

/** The row nearest to an instant; -1 where there is none. Rows ascend. */
export function nearestRow(rows: readonly SeriesRow[], t: number): number {
  const middle = (row: SeriesRow): number => (Date.parse(row.t0) + Date.parse(row.t1)) / 2
  let best = -1
  let away = Number.POSITIVE_INFINITY
  for (const [index, row] of rows.entries()) {
    const inside = t >= Date.parse(row.t0) && t < Date.parse(row.t1)
    const far = inside ? 0 : Math.abs(middle(row) - t)
    if (far < away) {
      best = index
      away = far
    }
  }
  return best
}

/** Twice the standard uncertainty of one reading of this size (GUM, JCGM 100:2008, 5.1.2 and 6.2). */
export function sureOf({ sd, gain_sd }: Pick<SeriesBody, 'sd' | 'gain_sd'>, value: number): number {
  return 2 * Math.hypot(sd, gain_sd * value)
}

/** A row in words: "39.6 in ± 0.2 (39.1 to 40.0 in)". */
export function rowWords(row: SeriesRow, body: SeriesBody, kind: QuantityKind, units: UnitSystem, factor = 1): string {
  if (row.mean === null) return 'not known, nothing was heard'
  const say = (value: number | null): string => quantity(kind, value === null ? null : value * factor, units)
  const bare = (words: string): string => words.split('\u00a0')[0] ?? ''
  const unit = toPeople(kind, 1, units).value - toPeople(kind, 0, units).value
  const off = sureOf(body, row.mean) * factor * Math.abs(unit)
  const doubt = off < 0.1 ? off.toFixed(2) : off.toFixed(1)
  const spread = row.n > 1 ? ` (${bare(say(row.min))} to ${say(row.max)})` : ''
  return `${say(row.mean)} ± ${doubt}${spread}`
}

type Sum = { min: number | null; max: number | null; sum: number; n: number }

function add(so: Sum, row: SeriesRow): void {
  if (row.min !== null) so.min = Math.min(so.min ?? row.min, row.min)
  if (row.max !== null) so.max = Math.max(so.max ?? row.max, row.max)
  if (row.mean !== null) {
    so.sum += row.mean * row.n
    so.n += row.n
  }
}

type Line = [string, string, string, string]

function lines(sums: ReadonlyMap<string, Sum>, kind: QuantityKind, units: UnitSystem, factor: number): Line[] {
  const say = (value: number | null): string => quantity(kind, value === null ? null : value * factor, units)
  return [...sums.entries()].map(([name, so]) => [
    name,
    say(so.min),
    say(so.n === 0 ? null : so.sum / so.n),
    say(so.max),
  ])
}

/** Rows gathered under the names of the stretches that they touch, newest first. */
function gathered(rows: readonly SeriesRow[], step: number, name: (t: number) => string): Map<string, Sum> {
  const sums = new Map<string, Sum>()
  for (const row of rows.toReversed()) {
    const first = Date.parse(row.t0)
    const last = Math.max(first, Date.parse(row.t1) - 1)
    const touched = new Set<string>()
    for (let t = last; t > first; t -= step) touched.add(name(t))
    touched.add(name(first))
    for (const one of touched) {
      const so = sums.get(one) ?? { min: null, max: null, sum: 0, n: 0 }
      add(so, row)
      sums.set(one, so)
    }
  }
  return sums
}

/** One line for each hour: time, lowest, mean, highest, in words; an hour without data says so. */
export function hourly(
  rows: readonly SeriesRow[],
  kind: QuantityKind,
  units: UnitSystem,
  zone: string,
  factor = 1,
): Line[] {
  const name = (t: number): string => formatLocalTime(Math.floor(t / HOUR) * HOUR, zone)
  return lines(gathered(rows, HOUR, name), kind, units, factor)
}

/** The same for each day of the site's calendar. A row that lies on both sides of midnight counts for both. */
export function daily(
  rows: readonly SeriesRow[],
  kind: QuantityKind,
  units: UnitSystem,
  zone: string,
  factor = 1,
): Line[] {
  return lines(
    gathered(rows, DAY, (t) => dateKey(t, zone)),
    kind,
    units,
    factor,
  )
}
