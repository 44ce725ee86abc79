import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { DAY, HOUR } from '../model/time.js'
import { findTime } from './open-day.js'
import { ROLLUP_DAY, ROLLUP_HOUR, type Rollups } from './rollups.js'
import type { Samples } from './samples.js'

/** One stretch of a chart, from ≤ t < to: least, greatest and mean of `n` samples. Stretches without samples are left out. */
export type ChartPoint = {
  readonly from: Ms
  readonly to: Ms
  readonly n: number
  readonly min: number
  readonly max: number
  readonly mean: number
}

class Stretches {
  readonly #start: Ms
  readonly #width: Ms
  readonly #n: Float64Array
  readonly #min: Float64Array
  readonly #max: Float64Array
  readonly #sum: Float64Array

  constructor(start: Ms, width: Ms, count: number) {
    this.#start = start
    this.#width = width
    this.#n = new Float64Array(count)
    this.#min = new Float64Array(count).fill(Number.POSITIVE_INFINITY)
    this.#max = new Float64Array(count).fill(Number.NEGATIVE_INFINITY)
    this.#sum = new Float64Array(count)
  }

  add(t: Ms, n: number, min: number, max: number, sum: number): void {
    const at = Math.floor((t - this.#start) / this.#width)
    this.#n[at] = (this.#n[at] ?? 0) + n
    this.#sum[at] = (this.#sum[at] ?? 0) + sum
    if (min < (this.#min[at] ?? 0)) this.#min[at] = min
    if (max > (this.#max[at] ?? 0)) this.#max[at] = max
  }

  points(): ChartPoint[] {
    const points: ChartPoint[] = []
    this.#n.forEach((n, at) => {
      if (n === 0) return
      const from = this.#start + at * this.#width
      const mean = (this.#sum[at] ?? 0) / n
      points.push({ from, to: from + this.#width, n, min: this.#min[at] ?? 0, max: this.#max[at] ?? 0, mean })
    })
    return points
  }
}

function addSamples(samples: Samples, series: number, day: number, from: Ms, to: Ms, into: Stretches): void {
  const { n, t, v } = samples.columns(series, day)
  const at = findTime(t, n, from)
  for (let i = at < 0 ? ~at : at; i < n; i++) {
    const time = t[i] ?? 0
    if (time >= to) return
    const value = v[i] ?? Number.NaN
    if (!Number.isNaN(value)) into.add(time, 1, value, value, value)
  }
}

/** Sealed days from roll-ups; open days, and days that the span cuts inside an hour or day, from their samples. */
function addRollups(
  { samples, rollups }: ChartSource,
  series: number,
  span: { readonly from: Ms; readonly to: Ms; readonly unit: Ms },
  into: Stretches,
): void {
  const { from, to, unit } = span
  const raw = new Set<number>()
  const first = Math.floor(from / DAY)
  const last = Math.floor((to - 1) / DAY)
  for (const day of samples.days([series], first, last)) {
    const cut = (day === first && from % unit !== 0) || (day === last && to % unit !== 0)
    if (cut || samples.isOpen(series, day)) raw.add(day)
  }
  for (const day of raw) addSamples(samples, series, day, from, to, into)
  const level = unit === HOUR ? ROLLUP_HOUR : ROLLUP_DAY
  for (const row of rollups.list(series, level, Math.ceil(from / unit) * unit, to)) {
    if (!raw.has(Math.floor(row.bucket / DAY))) into.add(row.bucket, row.n, row.min, row.max, row.sum)
  }
}

export type ChartSource = { readonly samples: Samples; readonly rollups: Rollups }

/**
 * At most `points` (+ 1, where stretches are aligned to hours or days) stretches of equal length, none of which
 * hides a peak. Short spans are drawn from samples, longer ones from hourly, and years from daily roll-ups.
 */
export function chart(source: ChartSource, series: number, from: Ms, to: Ms, points: number): readonly ChartPoint[] {
  const start = Math.max(0, Math.floor(from))
  const end = Math.ceil(to)
  if (!(start < end)) return []
  const wanted = Math.min(LIMITS.chartPointsMax, Math.max(1, Math.floor(points)))
  const width = Math.ceil((end - start) / wanted)
  const few = source.samples.count(series, Math.floor(start / DAY), Math.floor((end - 1) / DAY))
  if (width < HOUR && few <= LIMITS.chartSamplesMax) {
    const into = new Stretches(start, width, Math.ceil((end - start) / width))
    for (const day of source.samples.days([series], Math.floor(start / DAY), Math.floor((end - 1) / DAY))) {
      addSamples(source.samples, series, day, start, end, into)
    }
    return into.points()
  }
  const unit = width < DAY ? HOUR : DAY
  const whole = Math.ceil(width / unit) * unit
  const aligned = Math.floor(start / whole) * whole
  const into = new Stretches(aligned, whole, Math.ceil((end - aligned) / whole))
  addRollups(source, series, { from: start, to: end, unit }, into)
  return into.points()
}
