import type { Ms } from '../model/time.js'
import { flag, known, unflag } from './rows.js'
import type { Sql } from './sql.js'

/** What people have set by hand, over what the configuration says; null: nothing, the configuration holds. */
export type ModeOverrides = {
  readonly away: boolean | null
  readonly winterized: boolean | null
  readonly maintenanceUntil: Ms | null
}

export type ModeTable = {
  get(site: string): ModeOverrides
  /** Changes the members that are named and returns the whole. */
  set(site: string, patch: Partial<ModeOverrides>): ModeOverrides
}

type Row = { away: number | null; winterized: number | null; maintenance_until: number | null }

export function createModes(sql: Sql): ModeTable {
  const read = sql.prepare<[string], Row>(
    'read modes',
    'SELECT away, winterized, maintenance_until FROM mode WHERE site = ?',
  )
  const write = sql.prepare<[string, number | null, number | null, number | null]>(
    'write modes',
    'INSERT OR REPLACE INTO mode (site, away, winterized, maintenance_until) VALUES (?, ?, ?, ?)',
  )
  const get = (site: string): ModeOverrides => {
    const row = read.get(site)
    if (row === undefined) return { away: null, winterized: null, maintenanceUntil: null }
    return { away: unflag(row.away), winterized: unflag(row.winterized), maintenanceUntil: row.maintenance_until }
  }
  return {
    get,
    set: (site, patch) =>
      sql.transaction(() => {
        const next = { ...get(site), ...patch }
        write.run(site, flag(next.away), flag(next.winterized), known(next.maintenanceUntil))
        return next
      }),
  }
}
