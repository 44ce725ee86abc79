import { existsSync, renameSync, statSync } from 'node:fs'
import Database from 'better-sqlite3'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import { migrate } from './migrate.js'
import { MIGRATIONS } from './schema.js'
import { Sql } from './sql.js'
import { StoreError, toStoreError } from './store-error.js'

export type OpenOptions = {
  /** Path of the file, or `:memory:`. */
  readonly file: string
  readonly now: Ms
  /** For exports beside a running daemon: changes nothing, takes no lock. */
  readonly readOnly?: boolean
  /** The file may not grow past this; absent: as far as the disk goes. */
  readonly bytesMax?: number
  /** Check the file whole, as after an unclean stop: for opening again what was found damaged at work. */
  readonly check?: boolean
}

export const MEMORY = ':memory:'

function connect(options: OpenOptions): Database.Database {
  try {
    return new Database(options.file, { readonly: options.readOnly === true, timeout: 5_000 })
  } catch (error) {
    throw toStoreError(error, `open ${options.file}`)
  }
}

/** The compiled default drops to synchronous=NORMAL after the first write, so it is set and read back (contract test). */
function makeDurable(sql: Sql, options: OpenOptions): void {
  const mode = sql.pragma('journal_mode = WAL')
  sql.pragma('synchronous = FULL')
  if (options.file !== MEMORY && mode !== 'wal') {
    throw new StoreError('not-durable', `${options.file}: found journal mode ${String(mode)}, expected wal`)
  }
  const level = sql.pragma('synchronous')
  if (level !== 2) {
    throw new StoreError('not-durable', `${options.file}: found synchronous ${String(level)}, expected 2 (full)`)
  }
  sql.pragma(`journal_size_limit = ${LIMITS.walBytesMax}`)
  if (options.bytesMax !== undefined) {
    const page = Number(sql.pragma('page_size'))
    sql.pragma(`max_page_count = ${Math.max(1, Math.floor(options.bytesMax / page))}`)
  }
}

function quickCheck(sql: Sql, file: string): void {
  const answer = sql.pragma('quick_check(1)')
  if (answer !== 'ok') throw new StoreError('corrupt', `${file}: quick_check answered "${String(answer)}"`)
}

/** Opens, checks and migrates one file. A write-ahead log that is still there means that the last stop was unclean. */
export function openFile(options: OpenOptions): { readonly sql: Sql; readonly empty: boolean } {
  const wal = `${options.file}-wal`
  const unclean = options.file !== MEMORY && existsSync(wal) && statSync(wal).size > 0
  const sql = new Sql(connect(options))
  try {
    if (options.readOnly === true) {
      if (sql.pragma('user_version') !== MIGRATIONS.length) {
        throw new StoreError('not-ours', `${options.file}: not a store of this version; run the daemon on it once`)
      }
      return { sql, empty: false }
    }
    makeDurable(sql, options)
    sql.pragma('trusted_schema = OFF')
    sql.pragma('foreign_keys = ON')
    if (unclean || options.check === true) quickCheck(sql, options.file)
    return { sql, empty: migrate(sql, MIGRATIONS, options.file) }
  } catch (error) {
    sql.close()
    throw error
  }
}

/**
 * Watches that the name still leads to the file that is open. A file that was deleted or replaced takes every write,
 * and none of it is there after the next start. The returned check throws StoreError then; it costs one stat.
 */
export function watchPlace(file: string): () => void {
  if (file === MEMORY) return () => {}
  const opened = inodeOf(file)
  return () => {
    const found = inodeOf(file)
    if (found === opened) return
    const what = found === null ? 'has been deleted or moved' : 'has been replaced by another file'
    throw new StoreError('gone', `${file} ${what} while it was open`)
  }
}

function inodeOf(file: string): bigint | null {
  return statSync(file, { bigint: true, throwIfNoEntry: false })?.ino ?? null
}

/** Moves a damaged file with its log out of the way and returns its new name. Nothing is deleted. */
export function setAside(file: string, now: Ms): string {
  let target = `${file}.damaged-${now}`
  for (let i = 2; existsSync(target); i++) target = `${file}.damaged-${now}-${i}`
  for (const suffix of ['', '-wal', '-shm']) {
    if (!existsSync(file + suffix)) continue
    try {
      renameSync(file + suffix, target + suffix)
    } catch (error) {
      throw new StoreError('cannot-open', `${file}${suffix} is damaged and could not be moved to ${target}${suffix}`, {
        cause: error,
      })
    }
  }
  return target
}

/**
 * Takes the store for this process until `close`: a lock of the operating system on a small file beside it, which
 * ends with the process however it ends. Two daemons on one store would overwrite each other's memory.
 */
export function takeOwnership(file: string): { close(): void } {
  if (file === MEMORY) return { close: () => {} }
  let lock: Database.Database | null = null
  try {
    lock = new Database(`${file}.owner`, { timeout: 0 })
    lock.pragma('journal_mode = MEMORY')
    lock.exec('BEGIN EXCLUSIVE')
  } catch (error) {
    lock?.close()
    throw toStoreError(error, `take ${file} for this process`)
  }
  const held = lock
  return { close: () => held.close() }
}
