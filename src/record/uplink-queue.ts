import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'

/** A packed piece of a site's readings that waits to be taken by the daemon in town. */
export type UplinkFrame = { readonly id: number; readonly site: string; readonly at: Ms; readonly data: Buffer }

export type UplinkQueue = {
  /** Row of the sample log up to which frames have been made; null: none ever was. */
  cursor(): number | null
  /** Keeps frames, and up to which row they reach, in one transaction. Beyond `framesMax` the oldest go; returns how many. */
  add(frames: readonly Omit<UplinkFrame, 'id'>[], cursor: number, framesMax: number): number
  newest(): UplinkFrame | null
  oldest(): UplinkFrame | null
  /** A frame was taken: it is dropped, and its bytes are counted to the month (YYYY-MM). */
  sent(id: number, month: string, bytes: number): void
  counts(): { readonly waiting: number; readonly bytes: number; readonly oldestAt: Ms | null }
  /** Bytes sent in that month so far. */
  monthBytes(month: string): number
}

type State = { seq: number; month: string; bytes: number }

export function createUplinkQueue(sql: Sql): UplinkQueue {
  const state = sql.prepare<[], State>('read the uplink', 'SELECT seq, month, bytes FROM uplink_state WHERE id = 1')
  const keep = sql.prepare<[number, string, number]>(
    'keep the uplink',
    `INSERT INTO uplink_state (id, seq, month, bytes) VALUES (1, ?, ?, ?)
     ON CONFLICT (id) DO UPDATE SET seq = excluded.seq, month = excluded.month, bytes = excluded.bytes`,
  )
  const put = sql.prepare<[string, Ms, Buffer]>(
    'keep a frame',
    'INSERT INTO uplink_frame (site, at, data) VALUES (?, ?, ?)',
  )
  const columns = 'SELECT id, site, at, data FROM uplink_frame'
  const newest = sql.prepare<[], UplinkFrame>('read a frame', `${columns} ORDER BY id DESC LIMIT 1`)
  const oldest = sql.prepare<[], UplinkFrame>('read a frame', `${columns} ORDER BY id LIMIT 1`)
  const drop = sql.prepare<[number]>('drop a frame', 'DELETE FROM uplink_frame WHERE id = ?')
  const dropOld = sql.prepare<[number]>(
    'drop old frames',
    'DELETE FROM uplink_frame WHERE id <= (SELECT id FROM uplink_frame ORDER BY id DESC LIMIT 1 OFFSET ?)',
  )
  const count = sql.prepare<[], { waiting: number; bytes: number; oldestAt: Ms | null }>(
    'count frames',
    'SELECT count(*) AS waiting, coalesce(sum(length(data)), 0) AS bytes, min(at) AS oldestAt FROM uplink_frame',
  )
  const known = (): State => state.get() ?? { seq: 0, month: '', bytes: 0 }

  return {
    cursor: () => state.get()?.seq ?? null,
    add: (frames, cursor, framesMax) =>
      sql.transaction(() => {
        for (const { site, at, data } of frames) put.run(site, at, data)
        const { month, bytes } = known()
        keep.run(cursor, month, bytes)
        return dropOld.run(framesMax)
      }),
    newest: () => newest.get() ?? null,
    oldest: () => oldest.get() ?? null,
    sent: (id, month, bytes) =>
      sql.transaction(() => {
        drop.run(id)
        const before = known()
        keep.run(before.seq, month, (before.month === month ? before.bytes : 0) + bytes)
      }),
    counts: () => count.get() ?? { waiting: 0, bytes: 0, oldestAt: null },
    monthBytes: (month) => {
      const before = known()
      return before.month === month ? before.bytes : 0
    },
  }
}
