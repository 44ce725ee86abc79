import type Database from 'better-sqlite3'
import { toStoreError } from './store-error.js'

/** One prepared statement. Its errors are StoreErrors; rows have the shape that the STRICT schema promises. */
export class Statement<P extends unknown[], R> {
  readonly #statement: Database.Statement<unknown[], unknown>
  readonly #doing: string

  constructor(statement: Database.Statement<unknown[], unknown>, doing: string) {
    this.#statement = statement
    this.#doing = doing
  }

  /** Runs it and returns how many rows it changed. */
  run(...parameters: P): number {
    try {
      return this.#statement.run(...parameters).changes
    } catch (error) {
      throw toStoreError(error, this.#doing)
    }
  }

  /** Runs an INSERT and returns the id of the new row. */
  insert(...parameters: P): number {
    try {
      return Number(this.#statement.run(...parameters).lastInsertRowid)
    } catch (error) {
      throw toStoreError(error, this.#doing)
    }
  }

  get(...parameters: P): R | undefined {
    try {
      return this.#statement.get(...parameters) as R | undefined
    } catch (error) {
      throw toStoreError(error, this.#doing)
    }
  }

  all(...parameters: P): R[] {
    try {
      return this.#statement.all(...parameters) as R[]
    } catch (error) {
      throw toStoreError(error, this.#doing)
    }
  }
}

/** The connection as the rest of this room uses it: typed statements, joined transactions, errors for people. */
export class Sql {
  readonly #db: Database.Database

  constructor(db: Database.Database) {
    this.#db = db
  }

  get inTransaction(): boolean {
    return this.#db.inTransaction
  }

  /** `doing` names the work in the words of an error: "write the sample log". */
  prepare<P extends unknown[], R = never>(doing: string, sql: string): Statement<P, R> {
    try {
      return new Statement<P, R>(this.#db.prepare(sql), doing)
    } catch (error) {
      throw toStoreError(error, doing)
    }
  }

  exec(doing: string, sql: string): void {
    try {
      this.#db.exec(sql)
    } catch (error) {
      throw toStoreError(error, doing)
    }
  }

  pragma(source: string): unknown {
    try {
      return this.#db.pragma(source, { simple: true })
    } catch (error) {
      throw toStoreError(error, `pragma ${source}`)
    }
  }

  /** First column of every row that a pragma answers with, as text. */
  pragmaColumn(source: string): string[] {
    try {
      const rows: unknown = this.#db.pragma(source)
      return Array.isArray(rows) ? rows.map((row) => String(Object.values(row)[0])) : []
    } catch (error) {
      throw toStoreError(error, `pragma ${source}`)
    }
  }

  /**
   * Runs `fn` in one IMMEDIATE transaction; inside another one it joins that one. What `fn` throws goes through
   * unchanged after the rollback; failures of the transaction itself are StoreErrors.
   */
  transaction<T>(fn: () => T): T {
    if (this.#db.inTransaction) return fn()
    this.exec('begin a transaction', 'BEGIN IMMEDIATE')
    let result: T
    try {
      result = fn()
      if (result instanceof Promise) throw new TypeError('a transaction must not be asynchronous')
      this.exec('commit', 'COMMIT')
    } catch (error) {
      // A full disk makes SQLite roll back by itself; a second ROLLBACK would hide the first error.
      if (this.#db.inTransaction) this.exec('roll back', 'ROLLBACK')
      throw error
    }
    return result
  }

  /**
   * Folds the write-ahead log into the file and cuts it to nothing. A reader that is in the way is not waited for:
   * the daemon would stand still meanwhile, and the next time will do.
   */
  foldLog(): void {
    const timeout = this.pragma('busy_timeout')
    this.pragma('busy_timeout = 0')
    try {
      this.pragma('wal_checkpoint(TRUNCATE)')
    } finally {
      this.pragma(`busy_timeout = ${Number(timeout)}`)
    }
  }

  async backup(file: string): Promise<void> {
    try {
      await this.#db.backup(file)
    } catch (error) {
      throw toStoreError(error, `copy the store to ${file}`)
    }
  }

  close(): void {
    this.#db.close()
  }
}
