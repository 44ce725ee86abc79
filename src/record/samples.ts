import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import type { Blocks } from './blocks.js'
import { type Columns, findTime, mergeColumns, NO_SAMPLES, OpenDay, type Staged } from './open-day.js'
import type { SampleLog } from './sample-log.js'
import { StoreError } from './store-error.js'

export type LastSample = { readonly t: Ms; readonly value: number }

/** Year 2800: beyond it a time is a mistake, and day numbers stay well inside a block's place. */
const TIME_MAX = 26_200_000_000_000

type SeriesState = {
  readonly days: Map<number, OpenDay>
  /** The day that the last sample fell in. */
  hot: OpenDay | null
  /** `undefined`: not looked up yet. */
  last: LastSample | null | undefined
}

export type OpenPlace = { readonly series: number; readonly open: OpenDay }

/**
 * All samples as one: days not yet sealed in memory, sealed ones from blocks. Staging is the hot path of the whole
 * program: nothing here touches the disk unless a sample falls in a day that is sealed already.
 */
export class Samples {
  readonly #log: SampleLog
  readonly #blocks: Blocks
  readonly #states: (SeriesState | undefined)[] = []
  #openCount = 0

  constructor(log: SampleLog, blocks: Blocks) {
    this.#log = log
    this.#blocks = blocks
  }

  /** Samples in memory. */
  get openCount(): number {
    return this.#openCount
  }

  stage(series: number, t: Ms, value: number): Staged {
    if (!(t >= 0 && t <= TIME_MAX) || t !== Math.floor(t) || !(series > 0)) {
      throw new StoreError(
        'bad-value',
        `sample of series ${series}: found time ${t}, expected whole milliseconds since 1970 and a known series`,
      )
    }
    const staged = this.#place(series, t, value)
    if (staged === 'new') this.#log.stage(series, t, value)
    return staged
  }

  /** Fills the memory from the log, once, at start. */
  load(): void {
    this.#log.replay((series, t, value) => {
      this.#place(series, t, value)
    })
  }

  /** The commit failed: takes everything staged out again. */
  forgetStaged(): void {
    const times = new Map<number, Map<number, Set<number>>>()
    this.#log.eachStaged((series, t) => {
      const day = Math.floor(t / DAY)
      const ofSeries = times.get(series) ?? new Map<number, Set<number>>()
      const ofDay = ofSeries.get(day) ?? new Set<number>()
      times.set(series, ofSeries.set(day, ofDay.add(t)))
    })
    for (const [series, days] of times) {
      const state = this.#state(series)
      state.last = undefined
      for (const [day, set] of days) {
        const open = state.days.get(day)
        if (open === undefined) continue
        this.#openCount -= open.size
        open.forget(set)
        this.#openCount += open.size
        if (open.size === 0) this.#drop(state, day)
      }
    }
    this.#log.clear()
  }

  /** Every open day up to day number `last`, the earliest first. Days that only ever met repeats are let go. */
  openPlaces(last: number): OpenPlace[] {
    const places: OpenPlace[] = []
    this.#states.forEach((state, series) => {
      for (const open of state?.days.values() ?? []) {
        if (open.day > last) continue
        if (open.size > 0) places.push({ series, open })
        else this.#drop(state, open.day)
      }
    })
    return places.sort((a, b) => a.open.day - b.open.day || a.series - b.series)
  }

  /** Whether a day before `before` is still open: something for sealing to do. */
  hasOpenBefore(before: number): boolean {
    for (const state of this.#states) {
      for (const open of state?.days.values() ?? []) if (open.day < before && open.size > 0) return true
    }
    return false
  }

  /** The day's samples are in a block now. */
  sealed({ series, open }: OpenPlace): void {
    const state = this.#state(series)
    if (state.days.get(open.day) !== open) return
    this.#openCount -= open.size
    this.#drop(state, open.day)
    this.#blocks.forget(series, open.day)
  }

  /** Whether part of the day is in memory, so that roll-ups do not tell all of it. */
  isOpen(series: number, day: number): boolean {
    return (this.#states[series]?.days.get(day)?.size ?? 0) > 0
  }

  /** All samples of one UTC day, from memory and block. */
  columns(series: number, day: number): Columns {
    const open = this.#states[series]?.days.get(day)
    if (open === undefined) return this.#blocks.read(series, day) ?? NO_SAMPLES
    if (open.sealedTo === Number.NEGATIVE_INFINITY) return open.columns()
    return mergeColumns(this.#blocks.read(series, day) ?? NO_SAMPLES, open.columns())
  }

  /** Numbers of the days that hold samples, ascending. */
  days(series: readonly number[], first: number, last: number): number[] {
    const days = new Set<number>()
    for (const one of series) {
      for (const { day } of this.#blocks.days(one, first, last)) days.add(day)
      for (const day of this.#states[one]?.days.keys() ?? []) if (day >= first && day <= last) days.add(day)
    }
    return [...days].sort((a, b) => a - b)
  }

  /** Roughly how many samples lie between two days (open ones counted twice where they are partly sealed). */
  count(series: number, first: number, last: number): number {
    let n = 0
    for (const { count } of this.#blocks.days(series, first, last)) n += count
    for (const open of this.#states[series]?.days.values() ?? []) {
      if (open.day >= first && open.day <= last) n += open.size
    }
    return n
  }

  last(series: number): LastSample | null {
    const state = this.#state(series)
    if (state.last === undefined) state.last = this.#findLast(series, state)
    return state.last
  }

  /** Time of the earliest sample that is still stored; null: none is. */
  first(series: number): Ms | null {
    for (const day of this.days([series], 0, Number.MAX_SAFE_INTEGER)) {
      const { n, t } = this.columns(series, day)
      if (n > 0) return t[0] ?? null
    }
    return null
  }

  /** Old blocks were dropped: whatever was known of last samples is looked up again. */
  forgetLast(): void {
    for (const state of this.#states) if (state !== undefined) state.last = undefined
  }

  #findLast(series: number, state: SeriesState): LastSample | null {
    let day = this.#blocks.newestDay(series) ?? -1
    for (const open of state.days.keys()) day = Math.max(day, open)
    if (day < 0) return null
    const column = this.columns(series, day)
    if (column.n === 0) return null
    return { t: column.t[column.n - 1] ?? 0, value: column.v[column.n - 1] ?? Number.NaN }
  }

  #place(series: number, t: Ms, value: number): Staged {
    const state = this.#states[series] ?? this.#state(series)
    const day = Math.floor(t / DAY)
    let open = state.hot
    if (open === null || open.day !== day) open = this.#open(series, state, day)
    if (t <= open.sealedTo) {
      const known = this.#sealedVerdict(series, day, t, value)
      if (known !== null) return known
    }
    const staged = open.add(t, value)
    if (staged === 'new') {
      this.#openCount++
      const last = state.last
      if (last !== undefined && (last === null || t >= last.t)) state.last = { t, value }
    }
    return staged
  }

  #sealedVerdict(series: number, day: number, t: Ms, value: number): Staged | null {
    const column = this.#blocks.read(series, day)
    if (column === null) return null
    const at = findTime(column.t, column.n, t)
    if (at < 0) return null
    return Object.is(column.v[at], value) ? 'duplicate' : 'conflict'
  }

  #state(series: number): SeriesState {
    let state = this.#states[series]
    if (state === undefined) {
      state = { days: new Map(), hot: null, last: undefined }
      this.#states[series] = state
    }
    return state
  }

  #open(series: number, state: SeriesState, day: number): OpenDay {
    let open = state.days.get(day)
    if (open === undefined) {
      open = new OpenDay(day, this.#blocks.lastTime(series, day))
      state.days.set(day, open)
    }
    state.hot = open
    return open
  }

  #drop(state: SeriesState | undefined, day: number): void {
    state?.days.delete(day)
    if (state?.hot?.day === day) state.hot = null
  }
}
