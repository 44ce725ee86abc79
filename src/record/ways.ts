import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'

/** When a way of telling last worked, and what it last answered when it did not; `error` null: it works. */
export type WayProof = {
  readonly way: string
  readonly provedAt: Ms | null
  readonly error: string | null
  readonly errorAt: Ms | null
}

export type Ways = {
  /** Notes what a delivery by this way came to at `at`: null when it arrived, else the error. */
  note(site: string, way: string, at: Ms, error: string | null): void
  list(site: string): readonly WayProof[]
}

export function createWays(sql: Sql): Ways {
  const good = sql.prepare<[string, string, number]>(
    'note a way that works',
    `INSERT INTO way (site, way, proved_at) VALUES (?, ?, ?) ON CONFLICT (site, way)
     DO UPDATE SET proved_at = max(coalesce(proved_at, 0), excluded.proved_at), error = NULL, error_at = NULL`,
  )
  const bad = sql.prepare<[string, string, string, number]>(
    'note a way that fails',
    `INSERT INTO way (site, way, error, error_at) VALUES (?, ?, ?, ?) ON CONFLICT (site, way)
     DO UPDATE SET error = excluded.error, error_at = excluded.error_at`,
  )
  const list = sql.prepare<[string], WayProof>(
    'read ways',
    'SELECT way, proved_at AS provedAt, error, error_at AS errorAt FROM way WHERE site = ? ORDER BY way',
  )
  return {
    note(site, way, at, error) {
      if (error === null) good.run(site, way, at)
      else bad.run(site, way, error, at)
    },
    list: (site) => list.all(site),
  }
}
