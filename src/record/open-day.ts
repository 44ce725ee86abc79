/** Samples of one series in ascending time without repeats. Only the first `n` places count. */
export type Columns = { readonly n: number; readonly t: Float64Array; readonly v: Float64Array }

export const NO_SAMPLES: Columns = { n: 0, t: new Float64Array(0), v: new Float64Array(0) }

/** `new`: stored; `duplicate`: same time and value, harmless; `conflict`: same time, other value: the first stays. */
export type Staged = 'new' | 'duplicate' | 'conflict'

/** Out-of-order samples gather until they are this many, or an eighth of the day, then are merged in one pass. */
const TAIL_MIN = 256

/** Index of time `t` in the first `n` places of ascending `times`; or the bit complement of where it would go. */
export function findTime(times: Float64Array, n: number, t: number): number {
  let low = 0
  let high = n - 1
  while (low <= high) {
    const middle = (low + high) >>> 1
    const found = times[middle] ?? 0
    if (found < t) low = middle + 1
    else if (found > t) high = middle - 1
    else return middle
  }
  return ~low
}

/** Both in one; where both have a time, `first` wins. */
export function mergeColumns(first: Columns, second: Columns): Columns {
  if (second.n === 0) return first
  if (first.n === 0) return second
  const t = new Float64Array(first.n + second.n)
  const v = new Float64Array(first.n + second.n)
  let n = 0
  let i = 0
  let j = 0
  while (i < first.n || j < second.n) {
    const a = i < first.n ? (first.t[i] ?? 0) : Number.POSITIVE_INFINITY
    const b = j < second.n ? (second.t[j] ?? 0) : Number.POSITIVE_INFINITY
    if (a <= b) {
      t[n] = a
      v[n++] = first.v[i++] ?? Number.NaN
      if (a === b) j++
    } else {
      t[n] = b
      v[n++] = second.v[j++] ?? Number.NaN
    }
  }
  return { n, t, v }
}

function grown(column: Float64Array, capacity: number): Float64Array {
  const next = new Float64Array(capacity)
  next.set(column)
  return next
}

/**
 * One series' samples of one UTC day, in memory until the day is sealed. Appending in order is O(1); what comes out
 * of order waits in a small map and is merged in batches, so that a shuffled day costs O(n log n), not O(n²).
 * Invariant: every time in the map is before the last time of the columns.
 */
export class OpenDay {
  readonly day: number
  /** Last time in this day's sealed block; -Infinity when there is none. */
  readonly sealedTo: number
  #t: Float64Array = new Float64Array(16)
  #v: Float64Array = new Float64Array(16)
  #n = 0
  #last = Number.NEGATIVE_INFINITY
  readonly #tail = new Map<number, number>()

  constructor(day: number, sealedTo: number) {
    this.day = day
    this.sealedTo = sealedTo
  }

  get size(): number {
    return this.#n + this.#tail.size
  }

  add(t: number, value: number): Staged {
    if (t > this.#last) {
      const n = this.#n
      if (n === this.#t.length) {
        this.#t = grown(this.#t, n * 2)
        this.#v = grown(this.#v, n * 2)
      }
      this.#t[n] = t
      this.#v[n] = value
      this.#n = n + 1
      this.#last = t
      return 'new'
    }
    const at = findTime(this.#t, this.#n, t)
    if (at >= 0) return Object.is(this.#v[at], value) ? 'duplicate' : 'conflict'
    const held = this.#tail.get(t)
    if (held !== undefined) return Object.is(held, value) ? 'duplicate' : 'conflict'
    this.#tail.set(t, value)
    if (this.#tail.size >= TAIL_MIN && this.#tail.size * 8 >= this.#n) this.#merge()
    return 'new'
  }

  /** All samples in order. What is added later does not show in the columns handed out. */
  columns(): Columns {
    if (this.#tail.size > 0) this.#merge()
    return { n: this.#n, t: this.#t, v: this.#v }
  }

  /** Takes samples out again: their commit failed. */
  forget(times: ReadonlySet<number>): void {
    const { n, t, v } = this.columns()
    this.#t = new Float64Array(Math.max(16, n))
    this.#v = new Float64Array(Math.max(16, n))
    this.#n = 0
    this.#last = Number.NEGATIVE_INFINITY
    for (let i = 0; i < n; i++) {
      const time = t[i] ?? 0
      if (!times.has(time)) this.add(time, v[i] ?? Number.NaN)
    }
  }

  // Makes new columns: a reader may still hold the old ones.
  #merge(): void {
    const times = Float64Array.from(this.#tail.keys()).sort()
    const values = times.map((time) => this.#tail.get(time) ?? Number.NaN)
    this.#tail.clear()
    const merged = mergeColumns({ n: this.#n, t: this.#t, v: this.#v }, { n: times.length, t: times, v: values })
    this.#t = merged.t
    this.#v = merged.v
    this.#n = merged.n
  }
}
