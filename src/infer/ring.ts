/** A short memory of timed values: newest last, oldest dropped. Plain arrays, so that it can be stored and read back. */
import type { Ms } from '../model/time.js'

export type Ring = { readonly capacity: number; readonly t: Ms[]; readonly v: number[] }

export function createRing(capacity: number): Ring {
  return { capacity, t: [], v: [] }
}

/** Adds a value; drops in blocks of a quarter, so that the cost per value stays flat. */
export function remember(ring: Ring, t: Ms, v: number): void {
  ring.t.push(t)
  ring.v.push(v)
  if (ring.t.length >= ring.capacity + (ring.capacity >> 2)) {
    const drop = ring.t.length - ring.capacity
    ring.t.splice(0, drop)
    ring.v.splice(0, drop)
  }
}

/** Values with t in [from, to], oldest first, the newest `most` of them. */
export function between(ring: Ring, from: Ms, to: Ms, most = Number.POSITIVE_INFINITY): number[] {
  const found: number[] = []
  for (let i = ring.t.length - 1; i >= 0 && found.length < most; i -= 1) {
    const t = ring.t[i] ?? 0
    if (t < from) break
    if (t <= to) found.push(ring.v[i] ?? 0)
  }
  return found.reverse()
}

/** The least value with t in [from, to]; null where there is none. */
export function leastBetween(ring: Ring, from: Ms, to: Ms): number | null {
  let least: number | null = null
  for (let i = ring.t.length - 1; i >= 0; i -= 1) {
    const t = ring.t[i] ?? 0
    if (t < from) break
    const v = ring.v[i] ?? 0
    if (t <= to && (least === null || v < least)) least = v
  }
  return least
}

/** The first `most` values with t ≥ from and t ≤ to, oldest first. */
export function firstFrom(ring: Ring, from: Ms, to: Ms, most: number): number[] {
  const found: number[] = []
  for (let i = 0; i < ring.t.length && found.length < most; i += 1) {
    const t = ring.t[i] ?? 0
    if (t >= from && t <= to) found.push(ring.v[i] ?? 0)
  }
  return found
}

/** Times and values with t in [from, to], oldest first, the newest `most` of them. */
export function pointsBetween(ring: Ring, from: Ms, to: Ms, most: number): { readonly t: Ms[]; readonly v: number[] } {
  let end = ring.t.length
  while (end > 0 && (ring.t[end - 1] ?? 0) > to) end -= 1
  let start = end
  while (start > 0 && end - start < most && (ring.t[start - 1] ?? 0) >= from) start -= 1
  return { t: ring.t.slice(start, end), v: ring.v.slice(start, end) }
}
