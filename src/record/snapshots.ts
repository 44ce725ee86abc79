import { deflateRawSync, inflateRawSync } from 'node:zlib'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { DAY } from '../model/time.js'
import type { Sql } from './sql.js'
import { toStoreError } from './store-error.js'

export type Snapshot = { readonly at: Ms; readonly text: string }

export type Snapshots = {
  /** Keeps the engine's state as of `at`; older ones are thinned to one a day, then dropped. */
  put(site: string, at: Ms, text: string): void
  /** The newest one, or the newest strictly before `before`. */
  latest(site: string, before: Ms | null): Snapshot | null
  /** Drops every one at or after `from` and returns how many. */
  dropFrom(site: string, from: Ms): number
}

/** A tenth larger than with more pains, in a third of the time; all sites have theirs to pack on the hour. */
const QUICK = { level: 1 } as const

function unpack(text: Buffer): string {
  try {
    return inflateRawSync(text).toString('utf8')
  } catch (error) {
    throw toStoreError(error, 'unpack a snapshot')
  }
}

export function createSnapshots(sql: Sql): Snapshots {
  const put = sql.prepare<[string, number, Buffer]>(
    'keep a snapshot',
    'INSERT OR REPLACE INTO snapshot (site, at, text) VALUES (?, ?, ?)',
  )
  const drop = sql.prepare<[string, number]>('drop snapshots', 'DELETE FROM snapshot WHERE site = ? AND at >= ?')
  const dropOld = sql.prepare<[string, number]>('drop snapshots', 'DELETE FROM snapshot WHERE site = ? AND at < ?')
  const thin = sql.prepare<[string, number, number]>(
    'thin out snapshots',
    `DELETE FROM snapshot WHERE site = ? AND at < ? AND EXISTS (SELECT 1 FROM snapshot AS earlier
       WHERE earlier.site = snapshot.site AND earlier.at < snapshot.at
         AND earlier.at >= snapshot.at - snapshot.at % ?)`,
  )
  const latest = sql.prepare<[string, number], { at: number; text: Buffer }>(
    'read a snapshot',
    'SELECT at, text FROM snapshot WHERE site = ? AND at < ? ORDER BY at DESC LIMIT 1',
  )
  return {
    put(site, at, text) {
      const packed = deflateRawSync(Buffer.from(text, 'utf8'), QUICK)
      sql.transaction(() => {
        put.run(site, at, packed)
        dropOld.run(site, at - LIMITS.snapshotDailyMs)
        thin.run(site, at - LIMITS.snapshotHourlyMs, DAY)
      })
    },
    latest(site, before) {
      const row = latest.get(site, before ?? Number.MAX_SAFE_INTEGER)
      return row === undefined ? null : { at: row.at, text: unpack(row.text) }
    },
    dropFrom: (site, from) => drop.run(site, from),
  }
}
