import Database from 'better-sqlite3'
import { MIGRATIONS } from './schema.js'

/**
 * Small tables that are worth saving from a damaged file, accounts first: without them no board may connect and
 * nobody may look. Samples and what is derived from them stay in the damaged file, for a look by hand.
 */
const TABLES = [
  'account',
  'secret',
  'mode',
  'way',
  'journal',
  'judge_state',
  'alarm',
  'outbox',
  'day',
  'cycle',
] as const
const ROWS_MAX = 1_000_000

function copyTable(from: Database.Database, to: Database.Database, table: string): boolean {
  const rows = from.prepare(`SELECT * FROM ${table} LIMIT ${ROWS_MAX}`).raw().all()
  const width = from.prepare(`SELECT * FROM ${table}`).columns().length
  const insert = to.prepare(`INSERT OR IGNORE INTO ${table} VALUES (${Array(width).fill('?').join(', ')})`)
  to.transaction(() => {
    for (const row of rows) insert.run(row)
  }).immediate()
  return rows.length > 0
}

/**
 * Copies what can still be read of the small tables from the damaged file into the new one, and returns the names of
 * tables from which rows came. A table that cannot be read whole is left out; nothing here throws.
 */
export function salvage(damaged: string, fresh: string): string[] {
  const saved: string[] = []
  let from: Database.Database | null = null
  let to: Database.Database | null = null
  try {
    from = new Database(damaged, { readonly: true })
    if (from.pragma('user_version', { simple: true }) !== MIGRATIONS.length) return saved
    to = new Database(fresh)
    to.pragma('synchronous = FULL')
    for (const table of TABLES) {
      try {
        if (copyTable(from, to, table)) saved.push(table)
      } catch {
        // This table lies on damaged pages; the next one may not.
      }
    }
  } catch {
    // Not even the head of the file can be read: there is nothing to save.
  } finally {
    from?.close()
    to?.close()
  }
  return saved
}
