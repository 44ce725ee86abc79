import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import type { Blocks } from './blocks.js'
import type { SampleLog } from './sample-log.js'
import type { OpenPlace, Samples } from './samples.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

export type SealResult = { readonly samples: number; readonly blocks: number; readonly left: number }

type Round = {
  readonly work: OpenPlace[]
  /** Rows of the log up to this one, with nothing at or after `before`, are in blocks when the round is done. */
  readonly seq: number
  readonly before: Ms
}

function sealableBefore(now: Ms): number {
  return Math.floor((now - LIMITS.sealAfterMs) / DAY)
}

/**
 * Packs finished days into blocks, a bounded piece at each call. The log is trimmed only when a whole round is in
 * blocks, so a stop in between loses nothing: what is then in both places is the same sample once.
 */
export class Sealing {
  readonly #sql: Sql
  readonly #log: SampleLog
  readonly #blocks: Blocks
  readonly #samples: Samples
  #round: Round | null = null

  constructor(parts: { sql: Sql; log: SampleLog; blocks: Blocks; samples: Samples }) {
    this.#sql = parts.sql
    this.#log = parts.log
    this.#blocks = parts.blocks
    this.#samples = parts.samples
  }

  /** Whether `seal` has something to do: a finished day, a round under way, or too much in memory. */
  due(now: Ms): boolean {
    if (this.#round !== null || this.#samples.openCount > LIMITS.openSamplesMax) return true
    return this.#samples.hasOpenBefore(sealableBefore(now))
  }

  /** Seals about `samplesMax` samples; `left` says how many open days of this round remain for the next call. */
  seal(now: Ms, samplesMax: number = LIMITS.sealSamplesMax): SealResult {
    if (this.#log.stagedCount > 0) throw new StoreError('failed', 'seal between stage and commit')
    const round = this.#round ?? this.#begin(now)
    if (round === null) return { samples: 0, blocks: 0, left: 0 }
    this.#round = round
    const done: OpenPlace[] = []
    let samples = 0
    this.#sql.transaction(() => {
      for (const place of round.work) {
        if (samples >= samplesMax) break
        const column = this.#samples.columns(place.series, place.open.day)
        this.#blocks.write(place.series, place.open.day, column)
        samples += column.n
        done.push(place)
      }
      if (done.length === round.work.length) this.#log.drop(round.seq, round.before)
    })
    for (const place of done) this.#samples.sealed(place)
    round.work.splice(0, done.length)
    if (round.work.length === 0) {
      this.#round = null
      this.#sql.foldLog()
    }
    return { samples, blocks: done.length, left: round.work.length }
  }

  #begin(now: Ms): Round | null {
    const full = this.#samples.openCount > LIMITS.openSamplesMax
    const beforeDay = full ? Number.MAX_SAFE_INTEGER : sealableBefore(now)
    const work = this.#samples.openPlaces(beforeDay - 1)
    if (work.length === 0) return null
    return { work, seq: this.#log.end(), before: full ? Number.MAX_SAFE_INTEGER : beforeDay * DAY }
  }
}
