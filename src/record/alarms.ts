import { z } from 'zod'
import type { Alarm } from '../model/alarm.js'
import { ALARM_IDS, ALARM_STATES, PRIORITIES, QUANTITY_KINDS } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { known } from './rows.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

export type Alarms = {
  /** Stores one occurrence; the same key raised at the same instant is replaced. */
  put(site: string, alarm: Alarm): void
  /** Occurrences that are not over: not cleared, or cleared and still waiting for someone. The earliest raised first. */
  active(site: string): readonly Alarm[]
  /** Occurrences raised in from ≤ raised < to, ascending; of more than `limit` the newest. */
  list(site: string, from: Ms, to: Ms, limit?: number): readonly Alarm[]
  /** The latest occurrence of an alarm. */
  latest(site: string, key: string): Alarm | null
}

// JSON has no NaN or infinity: it writes null, so a figure that was one of these comes back as NaN.
const number = z
  .number()
  .nullable()
  .transform((value) => value ?? Number.NaN)

const rowSchema = z.object({
  key: z.string(),
  id: z.enum(ALARM_IDS),
  subject: z.string(),
  priority: z.enum(PRIORITIES),
  state: z.enum(ALARM_STATES),
  since: z.number(),
  raised: z.number(),
  cleared: z.number().nullable(),
  cause: z.string(),
  evidence: z.array(
    z.object({ label: z.string(), quantity: z.enum(QUANTITY_KINDS), value: number, usual: z.number().nullable() }),
  ),
  words: z.object({
    title: z.string(),
    what: z.string(),
    causes: z.array(z.string()),
    action: z.string(),
    ifIgnored: z.string(),
    caution: z.string().nullable(),
    timeLeft: z.string().nullable(),
  }),
  acknowledgedBy: z.string().nullable(),
  acknowledgedAt: z.number().nullable(),
  shelvedUntil: z.number().nullable(),
  shelveReason: z.string().nullable(),
  explainedBy: z.string().nullable(),
  raisesInDay: z.number(),
})

type Row = {
  key: string
  id: string
  subject: string
  priority: string
  state: string
  since: number
  raised: number
  cleared: number | null
  cause: string
  evidence: string
  words: string
  acknowledgedBy: string | null
  acknowledgedAt: number | null
  shelvedUntil: number | null
  shelveReason: string | null
  explainedBy: string | null
  raisesInDay: number
}

const COLUMNS = `key, id, subject, priority, state, since, raised, cleared, cause, evidence, words,
  acknowledged_by AS acknowledgedBy, acknowledged_at AS acknowledgedAt, shelved_until AS shelvedUntil,
  shelve_reason AS shelveReason, explained_by AS explainedBy, raises_in_day AS raisesInDay`

function json(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return null
  }
}

function alarmOf(row: Row): Alarm {
  const parsed = rowSchema.safeParse({ ...row, evidence: json(row.evidence), words: json(row.words) })
  if (parsed.success) return parsed.data
  throw new StoreError('corrupt', `alarm ${row.key} raised at ${row.raised}: ${z.prettifyError(parsed.error)}`)
}

export function createAlarms(sql: Sql): Alarms {
  const put = sql.prepare<(string | number | null)[]>(
    'write an alarm',
    `INSERT OR REPLACE INTO alarm (site, key, raised, id, subject, priority, state, since, cleared, cause, evidence,
       words, acknowledged_by, acknowledged_at, shelved_until, shelve_reason, explained_by, raises_in_day)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  )
  const active = sql.prepare<[string], Row>(
    'read alarms',
    `SELECT ${COLUMNS} FROM alarm WHERE site = ? AND (cleared IS NULL OR state IN ('returned-unacknowledged', 'latched'))
     ORDER BY raised, key`,
  )
  const list = sql.prepare<[string, number, number, number], Row>(
    'read alarms',
    `SELECT ${COLUMNS} FROM alarm WHERE site = ? AND raised >= ? AND raised < ? ORDER BY raised DESC, key DESC LIMIT ?`,
  )
  const latest = sql.prepare<[string, string], Row>(
    'read an alarm',
    `SELECT ${COLUMNS} FROM alarm WHERE site = ? AND key = ? ORDER BY raised DESC LIMIT 1`,
  )
  return {
    put(site, a) {
      const told = [JSON.stringify(a.evidence), JSON.stringify(a.words)]
      const acts = [a.acknowledgedBy, known(a.acknowledgedAt), known(a.shelvedUntil), a.shelveReason, a.explainedBy]
      const what = [site, a.key, a.raised, a.id, a.subject, a.priority, a.state, a.since, known(a.cleared), a.cause]
      put.run(...what, ...told, ...acts, a.raisesInDay)
    },
    active: (site) => active.all(site).map(alarmOf),
    list: (site, from, to, limit = LIMITS.listRowsMax) =>
      list.all(site, from, to, Math.min(limit, LIMITS.listRowsMax)).map(alarmOf).reverse(),
    latest(site, key) {
      const row = latest.get(site, key)
      return row === undefined ? null : alarmOf(row)
    },
  }
}
