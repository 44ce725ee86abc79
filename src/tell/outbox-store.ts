/** What this room needs of the store. */
import type { Message, OutboxRow } from '../model/message.js'
import type { Ms } from '../model/time.js'

export type WayRecord = {
  readonly way: string
  /** When a message last went through; null: never. */
  readonly provedAt: Ms | null
  /** The last failure since then; null: none. */
  readonly error: string | null
  readonly errorAt: Ms | null
}

export type OutboxStore = {
  transaction<T>(fn: () => T): T
  readonly outbox: {
    /** False when a message with that key is there already. */
    add(message: Message): boolean
    /** Waiting rows whose next attempt is at or before `now`. */
    due(now: Ms, limit: number): readonly OutboxRow[]
    sent(id: number, at: Ms): void
    /** Counts an attempt and sets the next one. */
    retry(id: number, nextAt: Ms, error: string): void
    failed(id: number, error: string): void
    list(site: string, limit: number): readonly OutboxRow[]
  }
  readonly ways: {
    note(site: string, way: string, at: Ms, error: string | null): void
    list(site: string): readonly WayRecord[]
  }
}
