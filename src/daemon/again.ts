/** Going back: the state of an earlier hour is taken up and the stored samples after it run again, in their order. */
import { DAY, HOUR, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { SiteLine } from './site-line.js'

/** Event time read from the store at once; short enough that a step stays short, long enough to read in one go. */
const SLICE_MS = 6 * HOUR

export class Again {
  readonly target: Ms
  #position: Ms
  readonly #store: Store

  private constructor(store: Store, position: Ms, target: Ms) {
    this.#store = store
    this.#position = position
    this.target = target
  }

  /**
   * Takes up the newest snapshot at or before `from` (null: the newest of all), and drops what was derived after it.
   * A snapshot that no longer fits the configuration is passed over with all others: everything is derived anew.
   */
  static begin(line: SiteLine, store: Store, from: Ms | null, target: Ms): Again {
    const site = line.site.id
    let snapshot = store.snapshots.latest(site, from === null ? null : from + 1)
    line.state = line.engine.initial()
    if (snapshot !== null) {
      try {
        line.state = line.engine.restore(snapshot.text)
      } catch {
        snapshot = null
        store.snapshots.dropFrom(site, 0)
      }
    }
    const at = snapshot?.at ?? firstSample(store, line.series, target)
    const run = line.state.pump.run
    store.transaction(() => {
      store.snapshots.dropFrom(site, snapshot === null ? 0 : at + 1)
      store.cycles.dropAfter(site, snapshot === null ? 0 : Math.min(at, run?.start ?? at))
      store.days.dropFrom(site, line.state.days[0]?.date ?? '0000-00-00')
    })
    return new Again(store, at, target)
  }

  /** Runs a piece of at most about `samplesMax` samples; true when the target is reached. */
  progress(line: SiteLine, samplesMax: number): boolean {
    let taken = 0
    while (this.#position < this.target) {
      const to = Math.min(this.target, this.#position + SLICE_MS)
      this.#store.read(line.series, this.#position, to, (index, t, value) => {
        line.feed(index, t, value)
        taken += 1
      })
      this.#position = to
      if (taken >= samplesMax) return this.#position >= this.target
    }
    line.advance(this.target)
    return true
  }
}

/** Where stored samples begin, to the day: years without any need not be walked through. */
function firstSample(store: Store, series: readonly number[], before: Ms): Ms {
  let first = before
  for (const one of series) {
    const point = store.chart(one, before - 3000 * DAY, before, 2000)[0]
    if (point !== undefined && point.from < first) first = point.from
  }
  return first - (first % HOUR)
}
