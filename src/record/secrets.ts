import { randomBytes } from 'node:crypto'
import type { Sql } from './sql.js'

const SECRET_BYTES = 32

/** Keys of the daemon's own (for signed links and such): made at first use, the same ever after. */
export function createSecrets(sql: Sql): (name: string) => Buffer {
  const get = sql.prepare<[string], { bytes: Buffer }>('read a secret', 'SELECT bytes FROM secret WHERE name = ?')
  const put = sql.prepare<[string, Buffer]>('keep a secret', 'INSERT INTO secret (name, bytes) VALUES (?, ?)')
  return (name) =>
    sql.transaction(() => {
      const kept = get.get(name)
      if (kept !== undefined) return kept.bytes
      const bytes = randomBytes(SECRET_BYTES)
      put.run(name, bytes)
      return bytes
    })
}
