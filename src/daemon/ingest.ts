/**
 * Group commit. Messages that wait together are committed together, then acknowledged together, in order of arrival.
 * Bounded: past the limit a message is refused at once and its board keeps it.
 */
import { LIMITS } from '../model/limits.js'
import type { Arrival } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import type { Settle } from '../receive/receiver.js'
import { StoreError } from '../record/store-error.js'
import type { Clock } from '../runtime/clock.js'
import type { Log } from '../runtime/log.js'
import type { Line } from './line.js'

export type IngestOptions = {
  readonly line: Line
  readonly clock: Clock
  readonly log: Log
  /** Every message once it is safe, as for the capture file. */
  readonly onSafe?: (arrival: Arrival) => void
}

export type IngestState = {
  readonly queued: number
  readonly refusedFull: number
  /** Since when commits have failed without a success between; null: they work. */
  readonly failingSince: Ms | null
  readonly error: string | null
  readonly lastCommitAt: Ms | null
  readonly slowestCommitMs: number
}

export class Ingest {
  readonly #options: IngestOptions
  /** What waits, and beside each how to say that it is safe. */
  #arrivals: Arrival[] = []
  #settles: Settle[] = []
  #scheduled = false
  #refusedFull = 0
  #failingSince: Ms | null = null
  #error: string | null = null
  #lastCommitAt: Ms | null = null
  #slowest = 0

  constructor(options: IngestOptions) {
    this.#options = options
  }

  readonly push = (arrival: Arrival, settle: Settle): void => {
    if (this.#arrivals.length >= LIMITS.ingestQueueMax) {
      this.#refusedFull += 1
      settle(new Error(`${LIMITS.ingestQueueMax} messages wait for the store already`))
      return
    }
    this.#arrivals.push(arrival)
    this.#settles.push(settle)
    if (this.#scheduled) return
    this.#scheduled = true
    setImmediate(this.#flush)
  }

  state(): IngestState {
    return {
      queued: this.#arrivals.length,
      refusedFull: this.#refusedFull,
      failingSince: this.#failingSince,
      error: this.#error,
      lastCommitAt: this.#lastCommitAt,
      slowestCommitMs: this.#slowest,
    }
  }

  /** Notes how a commit outside the flow of messages went. */
  noteStore(error: unknown): void {
    if (error === null) this.#worked()
    else this.#failed(error)
  }

  /** Commits what is left, as at a stop. */
  drain(): void {
    while (this.#arrivals.length > 0) this.#flush()
  }

  readonly #flush = (): void => {
    this.#scheduled = false
    const arrivals = this.#arrivals
    const settles = this.#settles
    this.#arrivals = arrivals.splice(LIMITS.commitBatchMax)
    this.#settles = settles.splice(LIMITS.commitBatchMax)
    if (this.#arrivals.length > 0) {
      this.#scheduled = true
      setImmediate(this.#flush)
    }
    if (arrivals.length === 0) return
    const { line, clock, onSafe } = this.#options
    const began = clock.monotonic()
    let error: Error | null = null
    try {
      line.receive(arrivals)
      this.#worked()
    } catch (cause) {
      error = cause instanceof Error ? cause : new Error(String(cause))
      this.#failed(error)
      line.watchOnly(arrivals)
    }
    this.#slowest = Math.max(this.#slowest, clock.monotonic() - began)
    if (error === null && onSafe !== undefined) for (const arrival of arrivals) onSafe(arrival)
    for (const settle of settles) settle(error)
  }

  #worked(): void {
    if (this.#failingSince !== null) this.#options.log.info({}, 'the store takes samples again')
    this.#failingSince = null
    this.#error = null
    this.#lastCommitAt = this.#options.clock.now()
  }

  #failed(error: unknown): void {
    const words = error instanceof StoreError ? `${error.message} (${error.hint})` : String(error)
    if (this.#failingSince === null) {
      this.#failingSince = this.#options.clock.now()
      this.#options.log.error({ error: words }, 'the store does not take samples; boards keep them, alarms go on')
    }
    this.#error = words
  }
}
