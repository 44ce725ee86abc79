import { APPLICATION_ID } from './schema.js'
import type { Sql } from './sql.js'
import { StoreError } from './store-error.js'

function whole(value: unknown): number {
  return typeof value === 'number' ? value : 0
}

/**
 * Brings the file to the newest version, each step in a transaction of its own: a step that fails leaves the file
 * as it was before that step. Refuses, untouched, a file of another program or of a newer version.
 * Returns true when the file was empty before.
 */
export function migrate(sql: Sql, steps: readonly string[], file: string): boolean {
  const owner = whole(sql.pragma('application_id'))
  const version = whole(sql.pragma('user_version'))
  const tables = sql
    .prepare<[], { n: number }>('read the schema', "SELECT count(*) AS n FROM sqlite_schema WHERE type = 'table'")
    .get()
  const empty = (tables?.n ?? 0) === 0 && version === 0
  if (!empty && owner !== APPLICATION_ID) {
    throw new StoreError(
      'not-ours',
      `${file}: found a database of another program (application_id ${owner}), expected ${APPLICATION_ID}`,
    )
  }
  if (version > steps.length) {
    throw new StoreError('newer', `${file}: found version ${version} of the store, expected ${steps.length} or less`)
  }
  for (let i = version; i < steps.length; i++) {
    sql.transaction(() => {
      sql.exec(`bring ${file} from version ${i} to ${i + 1}`, steps[i] ?? '')
      sql.pragma(`application_id = ${APPLICATION_ID}`)
      sql.pragma(`user_version = ${i + 1}`)
    })
  }
  return empty
}
