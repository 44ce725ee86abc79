import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import { type Columns, findTime } from './open-day.js'
import type { Samples } from './samples.js'

/** Called with the place of the series in the list asked for. */
export type EachSample = (index: number, t: Ms, value: number) => void

type Cursor = { readonly index: number; readonly column: Columns; at: number; readonly end: number }

function place(times: Float64Array, n: number, t: Ms): number {
  const at = findTime(times, n, t)
  return at < 0 ? ~at : at
}

function cursors(samples: Samples, series: readonly number[], day: number, from: Ms, to: Ms): Cursor[] {
  const found: Cursor[] = []
  series.forEach((one, index) => {
    const column = samples.columns(one, day)
    const at = place(column.t, column.n, from)
    const end = place(column.t, column.n, to)
    if (at < end) found.push({ index, column, at, end })
  })
  return found
}

/** Moves the root of the heap down to where it belongs: ascending by time, then by place in the list. */
function sink(heap: Cursor[], times: Float64Array, size: number): void {
  const moving = heap[0]
  const time = times[0] ?? 0
  if (moving === undefined) return
  let hole = 0
  for (;;) {
    let child = hole * 2 + 1
    if (child >= size) break
    let next = heap[child]
    let nextTime = times[child] ?? 0
    const other = child + 1 < size ? heap[child + 1] : undefined
    if (other !== undefined && next !== undefined) {
      const otherTime = times[child + 1] ?? 0
      if (otherTime < nextTime || (otherTime === nextTime && other.index < next.index)) {
        child++
        next = other
        nextTime = otherTime
      }
    }
    if (next === undefined || time < nextTime || (time === nextTime && moving.index < next.index)) break
    heap[hole] = next
    times[hole] = nextTime
    hole = child
  }
  heap[hole] = moving
  times[hole] = time
}

function mergeDay(heap: Cursor[], each: EachSample): void {
  heap.sort((a, b) => (a.column.t[a.at] ?? 0) - (b.column.t[b.at] ?? 0) || a.index - b.index)
  const times = Float64Array.from(heap, (cursor) => cursor.column.t[cursor.at] ?? 0)
  let size = heap.length
  while (size > 0) {
    const top = heap[0]
    if (top === undefined) return
    each(top.index, times[0] ?? 0, top.column.v[top.at] ?? Number.NaN)
    top.at++
    if (top.at < top.end) {
      times[0] = top.column.t[top.at] ?? 0
    } else {
      size--
      const moved = heap[size]
      if (moved !== undefined) heap[0] = moved
      times[0] = times[size] ?? 0
    }
    sink(heap, times, size)
  }
}

/** Hands out the samples of several series with from ≤ t < to, ascending by time, then by place in the list. */
export function readMerged(samples: Samples, series: readonly number[], from: Ms, to: Ms, each: EachSample): void {
  if (!(from < to)) return
  for (const day of samples.days(series, Math.floor(from / DAY), Math.floor((to - 1) / DAY))) {
    mergeDay(cursors(samples, series, day, from, to), each)
  }
}
