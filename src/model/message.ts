import type { Priority } from './alarm.js'
import type { Ms } from './time.js'

/** What a message is about, so that ways can choose a form and receivers can tell a test from an alarm. */
export type MessageKind = 'alarm' | 'all-clear' | 'digest' | 'test' | 'service' | 'report'

/** One message to one person by one way: a row of the outbox. */
export type Message = {
  readonly site: string
  /** Same key, same message: the other side may drop repeats by it. */
  readonly key: string
  readonly kind: MessageKind
  readonly person: string
  readonly way: string
  /** The alarm's key, or '' where the message is about no alarm. */
  readonly about: string
  readonly priority: Priority
  /** When what it tells happened. */
  readonly at: Ms
  /** At most 60 characters, one line. */
  readonly subject: string
  /** Plain text. */
  readonly text: string
  /** HTML body, or null for ways and forms without one. */
  readonly html: string | null
  /** 160 characters of plain text for text-message gateways. */
  readonly short: string
  /** Not before this instant (quiet hours). */
  readonly due: Ms
}

export type OutboxState = 'waiting' | 'sent' | 'failed'

export type OutboxRow = Message & {
  readonly id: number
  readonly state: OutboxState
  readonly attempts: number
  readonly nextAt: Ms
  readonly sentAt: Ms | null
  readonly error: string | null
}
