/**
 * Samples that are staged and not yet handed to their sites. Columns that are used again for each commit: at tens of
 * thousands of samples a second a record for each would be most of what the collector of garbage has to do.
 */
import type { Ms } from '../model/time.js'
import type { SiteLine } from './site-line.js'

/** Columns longer than this are not kept for the next commit. */
const KEPT_MAX = 100_000

export class Pending {
  #sites: SiteLine[] = []
  #index: number[] = []
  #t: number[] = []
  #value: number[] = []
  #n = 0

  get size(): number {
    return this.#n
  }

  add(site: SiteLine, index: number, t: Ms, value: number): void {
    const n = this.#n++
    this.#sites[n] = site
    this.#index[n] = index
    this.#t[n] = t
    this.#value[n] = value
  }

  /** The earliest sample of each site that comes after its time was looked at; null: there is none. */
  lateFrom(): ReadonlyMap<SiteLine, Ms> | null {
    let late: Map<SiteLine, Ms> | null = null
    for (let i = 0; i < this.#n; i++) {
      const site = this.#sites[i]
      const t = this.#t[i] ?? 0
      if (site?.isLate(t) !== true) continue
      late ??= new Map()
      const earliest = late.get(site)
      if (earliest === undefined || t < earliest) late.set(site, t)
    }
    return late
  }

  /** Hands every sample to its site, in the order they came; returns how many were late. */
  take(now: Ms): number {
    let late = 0
    for (let i = 0; i < this.#n; i++) {
      if (this.#sites[i]?.take(this.#index[i] ?? 0, this.#t[i] ?? 0, this.#value[i] ?? 0, now)) late++
    }
    return late
  }

  each(act: (site: SiteLine, t: Ms) => void): void {
    for (let i = 0; i < this.#n; i++) {
      const site = this.#sites[i]
      if (site !== undefined) act(site, this.#t[i] ?? 0)
    }
  }

  clear(): void {
    if (this.#sites.length > KEPT_MAX) {
      this.#sites = []
      this.#index = []
      this.#t = []
      this.#value = []
    }
    this.#n = 0
  }
}
