import type { Ms } from '../model/time.js'
import type { Sql, Statement } from './sql.js'
import { StoreError } from './store-error.js'

/** A record of the log: series u32, time f64, value f64, little-endian. */
const RECORD_BYTES = 20
const SLICE_ROWS = 200

/**
 * The append-only log of samples: one row for each group commit. A primary key on (series, time) would rewrite
 * pages all over the file; appending is what a memory card bears.
 */
export class SampleLog {
  #bytes = new ArrayBuffer(RECORD_BYTES * 1024)
  #view = new DataView(this.#bytes)
  #n = 0
  #first = Number.POSITIVE_INFINITY
  #last = Number.NEGATIVE_INFINITY
  readonly #append: Statement<[number, number, number, Buffer], never>
  readonly #slice: Statement<[number, number], { seq: number; records: Buffer }>
  readonly #end: Statement<[], { seq: number | null }>
  readonly #drop: Statement<[number, number], never>
  /** Row numbers only grow, though the log may be trimmed to nothing: who reads from one onward must miss none. */
  #next: number

  /** @param after a row number that somebody has read up to; the next row has a higher one */
  constructor(sql: Sql, after = 0) {
    this.#append = sql.prepare(
      'append to the sample log',
      'INSERT INTO sample_log (seq, first_ms, last_ms, records) VALUES (?, ?, ?, ?)',
    )
    this.#slice = sql.prepare(
      'read the sample log',
      'SELECT seq, records FROM sample_log WHERE seq > ? ORDER BY seq LIMIT ?',
    )
    this.#end = sql.prepare('read the sample log', 'SELECT max(seq) AS seq FROM sample_log')
    this.#drop = sql.prepare('trim the sample log', 'DELETE FROM sample_log WHERE seq <= ? AND last_ms < ?')
    this.#next = Math.max(this.end(), after) + 1
  }

  get stagedCount(): number {
    return this.#n
  }

  stage(series: number, t: Ms, value: number): void {
    const at = this.#n * RECORD_BYTES
    if (at === this.#bytes.byteLength) this.#grow()
    const view = this.#view
    view.setUint32(at, series, true)
    view.setFloat64(at + 4, t, true)
    view.setFloat64(at + 12, value, true)
    this.#n++
    if (t < this.#first) this.#first = t
    if (t > this.#last) this.#last = t
  }

  /** Writes what is staged as one row; it stays staged until `clear`, for the commit may still fail. */
  write(): void {
    if (this.#n === 0) return
    this.#append.run(this.#next, this.#first, this.#last, Buffer.from(this.#bytes, 0, this.#n * RECORD_BYTES))
    // A number whose commit fails is not used again; the gap is harmless.
    this.#next++
  }

  eachStaged(each: (series: number, t: Ms) => void): void {
    for (let i = 0; i < this.#n; i++) {
      each(this.#view.getUint32(i * RECORD_BYTES, true), this.#view.getFloat64(i * RECORD_BYTES + 4, true))
    }
  }

  clear(): void {
    this.#n = 0
    this.#first = Number.POSITIVE_INFINITY
    this.#last = Number.NEGATIVE_INFINITY
  }

  /** Hands out every committed record in the order of commits. */
  replay(each: (series: number, t: Ms, value: number) => void): void {
    for (let seq = 0; ; ) {
      const last = this.since(seq, SLICE_ROWS, each)
      if (last === seq) return
      seq = last
    }
  }

  /** Hands out the records of at most `rowsMax` rows after row `seq`; returns the last of them, `seq` where there is none. */
  since(seq: number, rowsMax: number, each: (series: number, t: Ms, value: number) => void): number {
    let last = seq
    for (const row of this.#slice.all(seq, rowsMax)) {
      if (row.records.length % RECORD_BYTES !== 0) {
        throw new StoreError('corrupt', `sample log row ${row.seq}: ${row.records.length} bytes are not whole records`)
      }
      const view = new DataView(row.records.buffer, row.records.byteOffset, row.records.length)
      for (let at = 0; at < row.records.length; at += RECORD_BYTES) {
        each(view.getUint32(at, true), view.getFloat64(at + 4, true), view.getFloat64(at + 12, true))
      }
      last = row.seq
    }
    return last
  }

  /** Number of the newest row. */
  end(): number {
    return this.#end.get()?.seq ?? 0
  }

  /** Deletes rows up to `seq` whose samples are all before `before`. */
  drop(seq: number, before: Ms): void {
    this.#drop.run(seq, before)
  }

  #grow(): void {
    const next = new ArrayBuffer(this.#bytes.byteLength * 2)
    new Uint8Array(next).set(new Uint8Array(this.#bytes))
    this.#bytes = next
    this.#view = new DataView(next)
  }
}
