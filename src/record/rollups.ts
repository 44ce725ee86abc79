import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import type { Columns } from './open-day.js'
import type { Sql, Statement } from './sql.js'

export const ROLLUP_HOUR = 1
export const ROLLUP_DAY = 2

export type Rollup = {
  readonly bucket: Ms
  readonly n: number
  readonly min: number
  readonly max: number
  readonly sum: number
}

/** Count, least, greatest and sum of a series for each UTC hour and day, made when a day is sealed. NaN is not counted. */
export class Rollups {
  readonly #put: Statement<[number, number, number, number, number, number, number], never>
  readonly #list: Statement<[number, number, number, number], Rollup>
  readonly #drop: Statement<[number, number], never>

  constructor(sql: Sql) {
    this.#put = sql.prepare(
      'write a roll-up',
      'INSERT OR REPLACE INTO rollup (series, level, bucket, n, min, max, sum) VALUES (?, ?, ?, ?, ?, ?, ?)',
    )
    this.#list = sql.prepare(
      'read roll-ups',
      `SELECT bucket, n, min, max, sum FROM rollup
       WHERE series = ? AND level = ? AND bucket >= ? AND bucket < ? ORDER BY bucket`,
    )
    this.#drop = sql.prepare('drop old roll-ups', 'DELETE FROM rollup WHERE level = ? AND bucket < ?')
  }

  write(series: number, level: number, width: Ms, column: Columns): void {
    let i = 0
    while (i < column.n) {
      const bucket = Math.floor((column.t[i] ?? 0) / width) * width
      let n = 0
      let min = Number.POSITIVE_INFINITY
      let max = Number.NEGATIVE_INFINITY
      let sum = 0
      for (; i < column.n && (column.t[i] ?? 0) < bucket + width; i++) {
        const value = column.v[i] ?? Number.NaN
        if (Number.isNaN(value)) continue
        n++
        sum += value
        if (value < min) min = value
        if (value > max) max = value
      }
      // Sums that overflow (infinite values) have no mean; a REAL column cannot hold NaN.
      if (n > 0 && !Number.isNaN(sum)) this.#put.run(series, level, bucket, n, min, max, sum)
    }
  }

  list(series: number, level: number, from: Ms, to: Ms): readonly Rollup[] {
    return this.#list.all(series, level, from, to)
  }

  prune(now: Ms): number {
    return this.#drop.run(ROLLUP_HOUR, now - LIMITS.keepHourlyDays * DAY)
  }
}
