import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { Sql, Statement } from './sql.js'

/** A message that could not be read, kept for a look. `site` and `board` are '' where the topic names none. */
export type AsideMessage = {
  readonly site: string
  readonly board: string
  readonly at: Ms
  readonly topic: string
  readonly reason: string
  readonly payload: Uint8Array
}

/** The newest unreadable messages of each site, LIMITS.keptAsideMax of them; written with the next commit. */
export class KeptAside {
  #pending: AsideMessage[] = []
  readonly #insert: Statement<[string, string, number, string, string, Buffer], never>
  readonly #trim: Statement<[string, string, number], never>
  readonly #list: Statement<[string], AsideMessage>

  constructor(sql: Sql) {
    this.#insert = sql.prepare(
      'keep a message aside',
      'INSERT INTO kept_aside (site, board, at, topic, reason, payload) VALUES (?, ?, ?, ?, ?, ?)',
    )
    this.#trim = sql.prepare(
      'drop messages kept aside',
      `DELETE FROM kept_aside WHERE site = ? AND id <=
         (SELECT id FROM kept_aside WHERE site = ? ORDER BY id DESC LIMIT 1 OFFSET ?)`,
    )
    this.#list = sql.prepare(
      'read messages kept aside',
      'SELECT site, board, at, topic, reason, payload FROM kept_aside WHERE site = ? ORDER BY id DESC',
    )
  }

  get pending(): boolean {
    return this.#pending.length > 0
  }

  keep(message: AsideMessage): void {
    const payload = message.payload.slice(0, LIMITS.payloadBytesMax)
    this.#pending.push({ ...message, topic: message.topic.slice(0, LIMITS.topicBytesMax), payload })
    if (this.#pending.length > LIMITS.keptAsideMax) this.#pending.shift()
  }

  /** Committed ones, the newest first. */
  list(site: string): readonly AsideMessage[] {
    return this.#list.all(site)
  }

  write(): void {
    for (const one of this.#pending) {
      const payload = Buffer.from(one.payload.buffer, one.payload.byteOffset, one.payload.length)
      this.#insert.run(one.site, one.board, one.at, one.topic, one.reason, payload)
    }
    for (const site of new Set(this.#pending.map((one) => one.site))) {
      this.#trim.run(site, site, LIMITS.keptAsideMax)
    }
  }

  clear(): void {
    this.#pending = []
  }
}
