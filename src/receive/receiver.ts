import type { Arrival } from '../model/sample.js'
import type { Ms } from '../model/time.js'

/**
 * What both ways of receiving (a broker of our own, or one that is there already) have in common. A message is
 * handed to `Ingest`; its acknowledgement leaves only when `settle(null)` has been called, in order of arrival.
 */

/** Called once a message is safe (null) or could not be made safe (the sender keeps it and sends it again). */
export type Settle = (error: Error | null) => void
export type Ingest = (arrival: Arrival, settle: Settle) => void

/** The part of a pino logger that receiving uses. */
export type Log = {
  info(about: object, words: string): void
  warn(about: object, words: string): void
  error(about: object, words: string): void
}

/** Why something was turned away. */
export type RefusedReason =
  | 'account' // unknown name, wrong password, or no name where one is due
  | 'too-many-tries'
  | 'client-id' // empty, too long, or in use by another account
  | 'topic' // not one that this account may publish to
  | 'subscription'
  | 'frame-too-large'
  | 'too-many-connections'
  | 'queue-full'
  | 'protocol' // not MQTT 3.1.1, or broken

export type ReceiveEvent =
  | {
      readonly kind: 'two-boards-one-name'
      readonly at: Ms
      readonly client: string
      /** Within two minutes. */
      readonly takeovers: number
      readonly who?: string
      /** What the one that was pushed out had published. */
      readonly topic?: string
    }
  | {
      readonly kind: 'refused'
      readonly at: Ms
      readonly reason: RefusedReason
      readonly who: string
      readonly what: string
    }
  /** The receiver no longer heard itself, and was built anew (or will be tried again, when `worked` is false). */
  | { readonly kind: 'restarted'; readonly at: Ms; readonly why: string; readonly worked: boolean }
  | { readonly kind: 'connected'; readonly at: Ms }
  | { readonly kind: 'disconnected'; readonly at: Ms; readonly why: string }

export type ReceiverStats = {
  /** Boards and people connected (embedded), or 1 while connected to the outside broker. */
  readonly connected: number
  /** Messages handed to ingest. */
  readonly received: number
  /** Messages made safe. */
  readonly settled: number
  /** Messages that could not be made safe. */
  readonly failed: number
  /** Messages with the store now. */
  readonly held: number
  readonly takeovers: number
  /** Times the receiver was built anew because it no longer heard itself. */
  readonly restarts: number
  /** Probes or heartbeats missed in a row. */
  readonly misses: number
  /** When the receiver last heard itself. */
  readonly provedAt: Ms | null
  readonly refused: Readonly<Record<RefusedReason, number>>
}

export type Receiver = {
  /** Where it listens, or what it is connected to: `127.0.0.1:1883`, `mqtts://broker.example`. */
  address(): string
  stats(): ReceiverStats
  /** Publishes a message of our own. Rejects when the broker did not take it in time. */
  publish(topic: string, payload: string | Uint8Array, options?: { readonly retain?: boolean }): Promise<void>
  /** Lets messages that are with the store settle for a short while, then ends every connection. */
  close(): Promise<void>
}

/** Timers, so that a test can drive them. Each returns how to stop it. */
export type Timers = {
  every(ms: number, act: () => void): () => void
  after(ms: number, act: () => void): () => void
}

export const systemTimers: Timers = {
  every(ms, act) {
    const timer = setInterval(act, ms)
    timer.unref()
    return () => clearInterval(timer)
  },
  after(ms, act) {
    const timer = setTimeout(act, ms)
    timer.unref()
    return () => clearTimeout(timer)
  },
}

/** Receiving cannot start: says where, what was found, and what to do. */
export class ReceiveError extends Error {
  readonly hint: string

  constructor(words: string, hint: string, cause?: unknown) {
    super(`${words}; ${hint}`, { cause })
    this.name = 'ReceiveError'
    this.hint = hint
  }
}

export function wordsOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error)
}
