import Database from 'better-sqlite3'
import { type Accounts, createAccounts } from './accounts.js'
import { createJournal, type Journal } from './journal.js'
import { APPLICATION_ID, MIGRATIONS } from './schema.js'
import { Sql } from './sql.js'
import { StoreError, toStoreError } from './store-error.js'
import { createTokens, type Tokens } from './tokens.js'

/** As long as the daemon's longest ordinary commit, so that the two wait for each other. */
const BUSY_MS = 5_000

export type OpenAccounts = {
  readonly accounts: Accounts
  readonly tokens: Tokens
  readonly journal: Journal
  close(): void
}

/**
 * The accounts, tokens and the journal that says who changed them, written beside a running daemon: it asks the store
 * at each login, so it knows of a change at once. Nothing else of the store is touched. Throws StoreError for a file
 * that is no store of this version.
 */
export function openAccounts(file: string): OpenAccounts {
  let db: Database.Database
  try {
    db = new Database(file, { fileMustExist: true, timeout: BUSY_MS })
  } catch (error) {
    throw toStoreError(error, `open ${file}`)
  }
  const sql = new Sql(db)
  try {
    if (sql.pragma('application_id') !== APPLICATION_ID || sql.pragma('user_version') !== MIGRATIONS.length) {
      throw new StoreError('not-ours', `${file}: found another file than a store of this version`)
    }
    sql.pragma('synchronous = FULL')
    return {
      accounts: createAccounts(sql),
      tokens: createTokens(sql),
      journal: createJournal(sql),
      close: () => sql.close(),
    }
  } catch (error) {
    sql.close()
    throw error
  }
}
