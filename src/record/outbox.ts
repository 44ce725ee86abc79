import { z } from 'zod'
import { PRIORITIES } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { Message, OutboxRow } from '../model/message.js'
import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

export type OutboxCounts = { readonly waiting: number; readonly sent: number; readonly failed: number }

export type Outbox = {
  /** Puts a message in; false when the site has one with that key already, in whatever state. */
  add(message: Message): boolean
  /** Whether a message with that key was put in, in whatever state, and has not been trimmed since. */
  has(site: string, key: string): boolean
  /** Waiting messages whose time has come, the most urgent first, then the oldest. */
  due(now: Ms, limit: number): readonly OutboxRow[]
  sent(id: number, at: Ms): void
  /** An attempt failed and another one is worth while at `nextAt`. */
  retry(id: number, nextAt: Ms, error: string): void
  /** An attempt failed for good, or it has become too old. */
  failed(id: number, error: string): void
  /** A site's messages, the newest first. */
  list(site: string, limit: number): readonly OutboxRow[]
  counts(): OutboxCounts
}

const rowSchema = z.object({
  id: z.number(),
  site: z.string(),
  key: z.string(),
  kind: z.enum(['alarm', 'all-clear', 'digest', 'test', 'service']),
  person: z.string(),
  way: z.string(),
  about: z.string(),
  priority: z.enum(PRIORITIES),
  at: z.number(),
  subject: z.string(),
  text: z.string(),
  html: z.string().nullable(),
  short: z.string(),
  due: z.number(),
  state: z.enum(['waiting', 'sent', 'failed']),
  attempts: z.number(),
  nextAt: z.number(),
  sentAt: z.number().nullable(),
  error: z.string().nullable(),
})

const COLUMNS = `id, site, key, kind, person, way, about, priority, at, subject, text, html, short, due, state,
  attempts, next_at AS nextAt, sent_at AS sentAt, error`

function rowOf(row: unknown): OutboxRow {
  const parsed = rowSchema.safeParse(row)
  if (parsed.success) return parsed.data
  throw new StoreError('corrupt', `row of the outbox: ${z.prettifyError(parsed.error)}`)
}

function prepareAll(sql: Sql) {
  return {
    insert: sql.prepare<(string | number | null)[]>(
      'put a message in the outbox',
      `INSERT INTO outbox (site, key, kind, person, way, about, priority, urgency, at, subject, text, html, short,
         due, state, attempts, next_at)
       VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'waiting', 0, ?) ON CONFLICT (site, key) DO NOTHING`,
    ),
    // What is settled goes first, then what matters least; the newest message always finds room.
    trim: sql.prepare<[number]>(
      'keep the outbox within its bound',
      `DELETE FROM outbox WHERE id IN
         (SELECT id FROM outbox ORDER BY state = 'waiting', urgency DESC, id
          LIMIT max(0, (SELECT count(*) FROM outbox) - ?))`,
    ),
    due: sql.prepare<[number, number], unknown>(
      'read the outbox',
      `SELECT ${COLUMNS} FROM outbox WHERE state = 'waiting' AND next_at <= ? ORDER BY urgency, id LIMIT ?`,
    ),
    sent: sql.prepare<[number, number]>(
      'note that a message was sent',
      `UPDATE outbox SET state = 'sent', sent_at = ?, attempts = attempts + 1, error = NULL WHERE id = ?`,
    ),
    retry: sql.prepare<[number, string, number]>(
      'note a failed attempt',
      'UPDATE outbox SET next_at = ?, attempts = attempts + 1, error = ? WHERE id = ?',
    ),
    failed: sql.prepare<[string, number]>(
      'note that a message failed',
      `UPDATE outbox SET state = 'failed', attempts = attempts + 1, error = ? WHERE id = ?`,
    ),
    list: sql.prepare<[string, number], unknown>(
      'read the outbox',
      `SELECT ${COLUMNS} FROM outbox WHERE site = ? ORDER BY id DESC LIMIT ?`,
    ),
    has: sql.prepare<[string, string], unknown>(
      'look for a message in the outbox',
      'SELECT 1 FROM outbox WHERE site = ? AND key = ?',
    ),
    counts: sql.prepare<[], { state: string; n: number }>(
      'count the outbox',
      'SELECT state, count(*) AS n FROM outbox GROUP BY state',
    ),
  }
}

export function createOutbox(sql: Sql): Outbox {
  const statements = prepareAll(sql)
  return {
    add(m) {
      const urgency = PRIORITIES.indexOf(m.priority)
      const who = [m.site, m.key, m.kind, m.person, m.way, m.about, m.priority, urgency, m.at]
      return sql.transaction(() => {
        statements.trim.run(LIMITS.outboxMax - 1)
        return statements.insert.run(...who, m.subject, m.text, m.html, m.short, m.due, m.due) > 0
      })
    },
    has: (site, key) => statements.has.get(site, key) !== undefined,
    due: (now, limit) => statements.due.all(now, limit).map(rowOf),
    sent: (id, at) => {
      statements.sent.run(at, id)
    },
    retry: (id, nextAt, error) => {
      statements.retry.run(nextAt, error, id)
    },
    failed: (id, error) => {
      statements.failed.run(error, id)
    },
    list: (site, limit) => statements.list.all(site, Math.min(limit, LIMITS.listRowsMax)).map(rowOf),
    counts() {
      const of = new Map(statements.counts.all().map((row) => [row.state, row.n]))
      return { waiting: of.get('waiting') ?? 0, sent: of.get('sent') ?? 0, failed: of.get('failed') ?? 0 }
    },
  }
}
