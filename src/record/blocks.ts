import { LIMITS } from '../model/limits.js'
import { DAY, HOUR } from '../model/time.js'
import { packBlock, unpackBlock } from './block-codec.js'
import type { Columns } from './open-day.js'
import { ROLLUP_DAY, ROLLUP_HOUR, type Rollups } from './rollups.js'
import type { Sql, Statement } from './sql.js'

/** Days of one series lie next to each other: series · 2^20 + day. */
const DAYS_MAX = 2 ** 20
const TROUBLES_MAX = 100

type Placed = { day: number; count: number }

/** Sealed days: one packed block for each series and UTC day, with their roll-ups. */
export class Blocks {
  readonly #rollups: Rollups
  /** Lately unpacked blocks, the oldest first. */
  readonly #unpacked = new Map<number, Columns>()
  #unpackedCount = 0
  readonly #troubles = new Map<number, string>()
  readonly #get: Statement<[number], { data: Buffer }>
  readonly #last: Statement<[number], { last_ms: number }>
  readonly #put: Statement<[number, number, number, number, number, number, Buffer], never>
  readonly #days: Statement<[number, number, number], Placed>
  readonly #newest: Statement<[number], { day: number }>
  readonly #drop: Statement<[number], never>
  readonly #totals: Statement<[], { blocks: number; samples: number | null; bytes: number | null }>
  readonly #ids: Statement<[number, number], { id: number; series: number; day: number; count: number; data: Buffer }>

  constructor(sql: Sql, rollups: Rollups) {
    this.#rollups = rollups
    this.#get = sql.prepare('read a block', 'SELECT data FROM block WHERE id = ?')
    this.#last = sql.prepare('read a block', 'SELECT last_ms FROM block WHERE id = ?')
    this.#put = sql.prepare(
      'write a block',
      'INSERT OR REPLACE INTO block (id, series, day, count, bytes, last_ms, data) VALUES (?, ?, ?, ?, ?, ?, ?)',
    )
    this.#days = sql.prepare(
      'list blocks',
      'SELECT day, count FROM block WHERE series = ? AND day BETWEEN ? AND ? ORDER BY day',
    )
    this.#newest = sql.prepare('list blocks', 'SELECT day FROM block WHERE series = ? ORDER BY day DESC LIMIT 1')
    this.#drop = sql.prepare('drop old blocks', 'DELETE FROM block WHERE day < ?')
    this.#totals = sql.prepare(
      'count blocks',
      'SELECT count(*) AS blocks, sum(count) AS samples, sum(bytes) AS bytes FROM block',
    )
    this.#ids = sql.prepare(
      'read blocks',
      'SELECT id, series, day, count, data FROM block WHERE id > ? ORDER BY id LIMIT ?',
    )
  }

  /** Last time in the block, -Infinity where there is none. */
  lastTime(series: number, day: number): number {
    return this.#last.get(series * DAYS_MAX + day)?.last_ms ?? Number.NEGATIVE_INFINITY
  }

  /** The samples of a sealed day; null where there is none, or where it is damaged (then `troubles` says so). */
  read(series: number, day: number): Columns | null {
    const id = series * DAYS_MAX + day
    const kept = this.#unpacked.get(id)
    if (kept !== undefined) {
      this.#unpacked.delete(id)
      this.#unpacked.set(id, kept)
      return kept
    }
    const row = this.#get.get(id)
    if (row === undefined) return null
    try {
      const column = unpackBlock(day, row.data)
      this.#keep(id, column)
      return column
    } catch (error) {
      if (this.#troubles.size < TROUBLES_MAX) this.#troubles.set(id, trouble(series, day, error))
      return null
    }
  }

  /** Packs, proves that unpacking gives the same back, writes block and roll-ups. Call `written` after the commit. */
  write(series: number, day: number, column: Columns): void {
    const data = packBlock(day, column)
    const back = unpackBlock(day, data)
    for (let i = 0; i < column.n; i++) {
      if (back.n !== column.n || back.t[i] !== column.t[i] || !Object.is(back.v[i], column.v[i])) {
        throw new RangeError(`packing series ${series}, day ${day} is not lossless at sample ${i}`)
      }
    }
    const last = column.t[column.n - 1] ?? 0
    this.#put.run(series * DAYS_MAX + day, series, day, column.n, data.length, last, data)
    this.#rollups.write(series, ROLLUP_HOUR, HOUR, column)
    this.#rollups.write(series, ROLLUP_DAY, DAY, column)
  }

  /** Forgets the unpacked form of a block that was written anew. */
  forget(series: number, day: number): void {
    const id = series * DAYS_MAX + day
    this.#unpackedCount -= this.#unpacked.get(id)?.n ?? 0
    this.#unpacked.delete(id)
  }

  days(series: number, first: number, last: number): readonly Placed[] {
    return this.#days.all(series, first, last)
  }

  newestDay(series: number): number | null {
    return this.#newest.get(series)?.day ?? null
  }

  /** Deletes blocks of days before `day`; their roll-ups stay. */
  dropBefore(day: number): number {
    const dropped = this.#drop.run(day)
    this.#unpacked.clear()
    this.#unpackedCount = 0
    return dropped
  }

  totals(): { blocks: number; samples: number; bytes: number } {
    const row = this.#totals.get()
    return { blocks: row?.blocks ?? 0, samples: row?.samples ?? 0, bytes: row?.bytes ?? 0 }
  }

  /** Unpacks every block and returns a sentence for each that is damaged. */
  check(): string[] {
    const found: string[] = []
    let id = -1
    for (;;) {
      const rows = this.#ids.all(id, 50)
      for (const row of rows) {
        id = row.id
        try {
          const n = unpackBlock(row.day, row.data).n
          if (n !== row.count) throw new RangeError(`found ${n} samples, expected ${row.count}`)
        } catch (error) {
          found.push(trouble(row.series, row.day, error))
        }
      }
      if (rows.length < 50) return found
    }
  }

  /** Damaged blocks met so far while reading, a sentence each. */
  troubles(): readonly string[] {
    return [...this.#troubles.values()]
  }

  #keep(id: number, column: Columns): void {
    this.#unpacked.set(id, column)
    this.#unpackedCount += column.n
    for (const [old, { n }] of this.#unpacked) {
      if (this.#unpackedCount <= LIMITS.unpackedSamplesMax || old === id) return
      this.#unpacked.delete(old)
      this.#unpackedCount -= n
    }
  }
}

function trouble(series: number, day: number, error: unknown): string {
  const date = new Date(day * DAY).toISOString().slice(0, 10)
  return `series ${series}, ${date}: ${error instanceof Error ? error.message : String(error)}`
}
