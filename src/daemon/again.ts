/** Going back: the state of an earlier hour is taken up and the stored samples after it run again, in their order. */
import type { EngineState } from '../infer/state.js'
import { LIMITS } from '../model/limits.js'
import { HOUR, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { SiteLine } from './site-line.js'

/** Event time read from the store at once; short enough that a step stays short, long enough to read in one go. */
const SLICE_MS = HOUR
/**
 * What a look at the place costs beside a sample: where boards send seldom, the looks of a day are most of the work, and
 * a piece counted in samples alone kept everything else waiting for more than a second.
 */
const LOOK_SAMPLES = 20

type Point = { readonly at: Ms; readonly state: EngineState }

export class Again {
  readonly #line: SiteLine
  readonly #store: Store
  readonly #from: Ms | null
  #target: Ms
  /** Samples before this have been run; null: not begun, or a failure in the middle of a piece means beginning anew. */
  #position: Ms | null = null
  #done = false

  /** From the newest snapshot at or before `from` (null: the newest of all) up to `target`. */
  constructor(line: SiteLine, store: Store, from: Ms | null, target: Ms) {
    this.#line = line
    this.#store = store
    this.#from = from
    this.#target = target
  }

  get target(): Ms {
    return this.#target
  }

  /** What is stored at or after this will still be read, up to the target. */
  get position(): Ms {
    return this.#position ?? this.#target
  }

  get done(): boolean {
    return this.#done
  }

  /**
   * Takes up the snapshot and drops what was derived after it. A snapshot that cannot be read, or no longer fits the
   * configuration, is passed over with all others: everything is derived anew. When the store fails, the line is as before.
   */
  begin(): void {
    const line = this.#line
    const { snapshots, cycles, days, energyHours } = this.#store
    const site = line.site.id
    const snapshot = this.#takeUp()
    const state = snapshot?.state ?? line.engine.initial()
    const at = snapshot?.at ?? this.#samplesBegin()
    const firstDay = state.days[0]?.date ?? line.engine.plan.calendar.dayOf(at).date
    this.#store.transaction(() => {
      snapshots.dropFrom(site, snapshot === null ? 0 : at + 1)
      cycles.dropAfter(site, Math.min(at, state.pump.run?.start ?? at) - 1)
      days.dropFrom(site, firstDay)
      energyHours.dropFrom(site, at - (at % HOUR))
    })
    line.state = state
    this.#target = Math.max(this.#target, at)
    this.#position = at
  }

  /** Runs a piece that costs about as much as `samplesMax` samples at most; returns what it cost, in samples. */
  progress(samplesMax: number): number {
    if (this.#position === null) this.begin()
    let position = this.#position ?? this.#target
    this.#position = null
    let taken = 0
    const each = (index: number, t: Ms, value: number): void => {
      this.#line.feed(index, t, value)
      taken += 1
    }
    while (position < this.#target && taken < samplesMax) {
      const to = Math.min(this.#target, position + SLICE_MS)
      this.#store.read(this.#line.series, position, to, each)
      taken += ((to - position) / LIMITS.tickMs) * LOOK_SAMPLES
      position = to
    }
    this.#position = position
    if (position < this.#target) return taken
    this.#line.advance(this.#target)
    this.#done = true
    return taken
  }

  #takeUp(): Point | null {
    const before = this.#from === null ? null : this.#from + 1
    try {
      const kept = this.#store.snapshots.latest(this.#line.site.id, before)
      return kept === null ? null : { at: kept.at, state: this.#line.engine.restore(kept.text) }
    } catch {
      return null
    }
  }

  /**
   * Where deriving anew begins: at the first stored sample. Where fills and days are older than that, their samples
   * have been dropped since; they stay, and so does the day that lost a part of its samples.
   */
  #samplesBegin(): Ms {
    let first = this.#target
    for (const one of this.#line.series) first = Math.min(first, this.#store.firstSample(one) ?? first)
    const { calendar } = this.#line.engine.plan
    const day = calendar.dayOf(first)
    const before = calendar.dayOf(day.start - 1).date
    return this.#store.days.list(this.#line.site.id, '0000-00-00', before).length > 0 ? day.end : first
  }
}
