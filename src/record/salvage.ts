import Database from 'better-sqlite3'
import { MIGRATIONS } from './schema.js'

/** Accounts first: without them no board may connect and nobody may look. */
const ROWID_TABLES = [
  'account',
  'secret',
  'mode',
  'judge_state',
  'alarm',
  'outbox',
  'way',
  'journal',
  'series',
  'cycle',
  'day',
  'snapshot',
  'kept_aside',
  'sample_log',
  'block',
] as const
/** These have no row number; they are read from both ends as far as it goes. */
const KEYED_TABLES = [
  ['refusal', 'site, reason, board'],
  ['rollup', 'series, level, bucket'],
  ['energy_hour', 'site, at'],
] as const

/** Row numbers tried one by one past a damaged page before a table is given up. */
const PROBES_MAX = 20_000

export type Salvaged = { readonly table: string; readonly rows: number; readonly whole: boolean }

type Insert = (row: unknown[]) => void

function rowAt(statement: Database.Statement<unknown[], unknown>, at: number): unknown[] | 'damaged' | undefined {
  try {
    const row = statement.get(at)
    return Array.isArray(row) ? row : undefined
  } catch {
    return 'damaged'
  }
}

/** Reads by ascending row number; where a page is damaged, feels its way past it one number at a time. */
function copyByRowid(from: Database.Database, table: string, insert: Insert): boolean {
  const after = from.prepare(`SELECT rowid, * FROM ${table} WHERE rowid > ? ORDER BY rowid LIMIT 1`).raw()
  const exactly = from.prepare(`SELECT rowid, * FROM ${table} WHERE rowid = ?`).raw()
  let at = 0
  let probes = 0
  let whole = true
  for (;;) {
    let row = rowAt(after, at)
    while (row === 'damaged' && probes++ < PROBES_MAX) {
      whole = false
      row = rowAt(exactly, ++at)
      if (row === undefined) row = rowAt(after, at)
    }
    if (row === undefined || row === 'damaged') return whole
    at = Number(row[0])
    insert(row.slice(1))
  }
}

function copyByKey(from: Database.Database, table: string, key: string, insert: Insert): boolean {
  let whole = true
  for (const order of [key, key.replaceAll(/\w+/g, '$& DESC')]) {
    try {
      for (const row of from.prepare(`SELECT * FROM ${table} ORDER BY ${order}`).raw().iterate()) {
        if (Array.isArray(row)) insert(row)
      }
      return whole
    } catch {
      whole = false
    }
  }
  return whole
}

function copyTable(from: Database.Database, to: Database.Database, table: string, key: string | null): Salvaged {
  const width = to.prepare(`SELECT * FROM ${table}`).columns().length
  const statement = to.prepare(`INSERT OR IGNORE INTO ${table} VALUES (${Array(width).fill('?').join(', ')})`)
  let rows = 0
  const insert: Insert = (row) => {
    try {
      rows += statement.run(...row).changes
    } catch {
      // A damaged page may hand out rows of the wrong shape: the schema refuses them.
    }
  }
  const copy = (): boolean => (key === null ? copyByRowid(from, table, insert) : copyByKey(from, table, key, insert))
  return { table, whole: to.transaction(copy).immediate(), rows }
}

/**
 * Copies all rows that can still be read from a damaged file into a fresh one of the same version; the damaged file
 * is not changed. Returns what came over from each table; nothing when not even the head of the file can be read.
 * Blocks carry a checksum of their own, so a damaged one that comes over is told apart when it is read.
 */
export function salvage(damaged: string, fresh: string): readonly Salvaged[] {
  const saved: Salvaged[] = []
  let from: Database.Database | null = null
  let to: Database.Database | null = null
  try {
    from = new Database(damaged, { readonly: true })
    if (from.pragma('user_version', { simple: true }) !== MIGRATIONS.length) return saved
    to = new Database(fresh)
    to.pragma('synchronous = FULL')
    for (const table of ROWID_TABLES) saved.push(copyTable(from, to, table, null))
    for (const [table, key] of KEYED_TABLES) saved.push(copyTable(from, to, table, key))
  } catch {
    // Stops where the file cannot be read at all, or the disk cannot take more: what came over so far stays.
  } finally {
    from?.close()
    to?.close()
  }
  return saved
}
