import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'

/** One row that is written to show that the store takes something: a look at the disk that cannot be mistaken. */
export function createProof(sql: Sql): (at: Ms) => void {
  const put = sql.prepare<[Ms]>(
    'prove the store',
    'INSERT INTO proof (id, at) VALUES (1, ?) ON CONFLICT (id) DO UPDATE SET at = excluded.at',
  )
  return (at) => {
    put.run(at)
  }
}
