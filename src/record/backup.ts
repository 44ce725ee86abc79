import { existsSync, renameSync, rmSync } from 'node:fs'
import Database from 'better-sqlite3'
import { APPLICATION_ID } from './schema.js'
import { Sql } from './sql.js'
import { StoreError, toStoreError } from './store-error.js'

function removeCopy(file: string): void {
  for (const suffix of ['', '-wal', '-shm', '-journal']) rmSync(file + suffix, { force: true })
}

/** Opens a fresh copy, makes it one plain file without a log beside it, and proves that it is whole. */
function proveCopy(file: string): void {
  const db = new Database(file)
  try {
    db.pragma('journal_mode = DELETE')
    const answer = db.pragma('integrity_check(1)', { simple: true })
    if (answer !== 'ok') throw new StoreError('corrupt', `backup ${file}: integrity_check answered "${String(answer)}"`)
    if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) {
      throw new StoreError('not-ours', `backup ${file}: the copy is not a store`)
    }
  } finally {
    db.close()
  }
}

async function copyThenName(file: string, copy: (partial: string) => Promise<void> | void): Promise<void> {
  const partial = `${file}.partial`
  removeCopy(partial)
  try {
    await copy(partial)
    proveCopy(partial)
    renameSync(partial, file)
  } catch (error) {
    removeCopy(partial)
    throw toStoreError(error, `back the store up to ${file}`)
  }
}

/** Backs up through the writing connection, in steps between which the daemon goes on; the copy is proved, then named. */
export function backupOpen(sql: Sql, file: string): Promise<void> {
  return copyThenName(file, (partial) => sql.backup(partial))
}

/** Backs up the store of another process: one read transaction, so the copy is of one instant. */
export function backupFile(store: string, file: string): Promise<void> {
  if (!existsSync(store)) {
    return Promise.reject(new StoreError('cannot-open', `back up ${store}: there is no such file`))
  }
  return copyThenName(file, (partial) => {
    const db = new Database(store, { readonly: true })
    try {
      new Sql(db).prepare<[string]>(`copy ${store}`, 'VACUUM INTO ?').run(partial)
    } finally {
      db.close()
    }
  })
}
