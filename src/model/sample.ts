import type { RoleId, SignalKey } from './roles.js'
import type { Ms } from './time.js'

/** Why a record was not believed. Fixed by the contract, section 3. */
export const REFUSALS = [
  'not-senml',
  'unknown-name',
  'unit',
  'not-finite',
  'out-of-range',
  'sentinel',
  'too-fast',
  'future',
  'too-old',
  'duplicate',
  'conflict',
  'too-large',
] as const
export type RefusalReason = (typeof REFUSALS)[number]

/** One message as it came from a broker or a capture. */
export type Arrival = {
  readonly at: Ms
  readonly topic: string
  readonly payload: Uint8Array
  /**
   * True only for a message that a broker had kept and handed over at our subscription (MQTT 3.1.1, section 3.3.1.3),
   * so that its age is not known; a live message is false, whatever flag its sender set.
   */
  readonly retain: boolean
}

/**
 * One measured value of one signal, in the role's SI unit, at the time of measurement. Contacts are 0 or 1.
 * NaN stands for "the sensor said that it has failed" (a sentinel or an impossible value): kept so that a lost
 * sensor is seen again whenever the days are derived again, never used as a number.
 */
export type Sample = {
  readonly key: SignalKey
  readonly role: RoleId
  readonly t: Ms
  readonly value: number
}

export type Refusal = {
  readonly reason: RefusalReason
  /** Board id, or '' where the topic names none. */
  readonly board: string
  readonly at: Ms
  /** The offending piece, shortened, safe to show. */
  readonly example: string
}

/** What a decoder makes of one message. */
export type Decoded = {
  readonly site: string
  readonly board: string
  readonly samples: readonly Sample[]
  readonly refusals: readonly Refusal[]
  /** True when the board's own clock was not usable and the time of receipt stood in. */
  readonly clockSuspect: boolean
}

/** A reading as the engine takes it: which signal (index into the site's signal list), when, what. */
export type Reading = { readonly signal: number; readonly t: Ms; readonly value: number }
