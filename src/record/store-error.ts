import Database from 'better-sqlite3'

/** Why the store could not do what it was asked. One word each, so that callers can choose and people can look it up. */
export type StoreErrorCode =
  | 'full'
  | 'read-only'
  | 'corrupt'
  | 'in-use'
  | 'io'
  | 'cannot-open'
  | 'gone'
  | 'not-ours'
  | 'newer'
  | 'closed'
  | 'not-durable'
  | 'bad-value'
  | 'failed'

const HINTS: Readonly<Record<StoreErrorCode, string>> = {
  full: 'free some space on the disk that holds the store, or keep samples for fewer days (store.keep_samples)',
  'read-only':
    'make the file and its folder writable for this user; a card that has gone read-only is worn out and wants replacing',
  corrupt: 'restore a backup, or start again and the damaged file is set aside',
  'in-use': 'another process has the store open: stop it first, or ask it through its page',
  io: 'the disk answered with an error: look at the system log, and at the age of the card',
  'cannot-open': 'see that the folder exists and is writable for this user',
  gone: 'put the file and its -wal back where they were, or start the program again; until then the boards keep their messages',
  'not-ours': 'the file belongs to another program: name another file in store.file',
  newer: 'the file was written by a newer version of this program: start that version',
  closed: 'the store has been closed already',
  'not-durable': 'the file system does not honour the settings that keep commits over a power cut',
  'bad-value': 'this is a mistake in the program: please report it with this line',
  failed: 'this is a mistake in the program: please report it with this line',
}

/** A failure of the store: `code` for the caller, `message` and `hint` for the person who mends it. */
export class StoreError extends Error {
  readonly code: StoreErrorCode
  readonly hint: string

  constructor(code: StoreErrorCode, message: string, options?: { readonly cause?: unknown }) {
    super(message, options)
    this.name = 'StoreError'
    this.code = code
    this.hint = HINTS[code]
  }
}

function codeOf(sqliteCode: string): StoreErrorCode {
  if (sqliteCode.startsWith('SQLITE_FULL')) return 'full'
  if (sqliteCode.startsWith('SQLITE_READONLY') || sqliteCode.startsWith('SQLITE_PERM')) return 'read-only'
  if (sqliteCode.startsWith('SQLITE_CORRUPT') || sqliteCode.startsWith('SQLITE_NOTADB')) return 'corrupt'
  if (sqliteCode.startsWith('SQLITE_BUSY') || sqliteCode.startsWith('SQLITE_LOCKED')) return 'in-use'
  if (sqliteCode.startsWith('SQLITE_IOERR')) return 'io'
  if (sqliteCode.startsWith('SQLITE_CANTOPEN')) return 'cannot-open'
  return 'failed'
}

/** What the operating system refused, by its own names for it (POSIX errno.h). */
const SYSTEM_CODES: Readonly<Record<string, StoreErrorCode>> = {
  EACCES: 'cannot-open',
  EPERM: 'cannot-open',
  ENOENT: 'cannot-open',
  ENOTDIR: 'cannot-open',
  EISDIR: 'cannot-open',
  EEXIST: 'cannot-open',
  EROFS: 'read-only',
  ENOSPC: 'full',
  EDQUOT: 'full',
  EIO: 'io',
}

function systemCodeOf(error: unknown): StoreErrorCode | undefined {
  if (!(error instanceof Error) || !('code' in error) || typeof error.code !== 'string') return undefined
  return SYSTEM_CODES[error.code]
}

/** Any error as a StoreError, with the library's own code and words kept in the message. */
export function toStoreError(error: unknown, doing: string): StoreError {
  if (error instanceof StoreError) return error
  if (error instanceof Database.SqliteError) {
    return new StoreError(codeOf(error.code), `${doing}: ${error.message} (${error.code})`, { cause: error })
  }
  if (error instanceof TypeError && error.message.includes('connection is not open')) {
    return new StoreError('closed', `${doing}: the store is closed`, { cause: error })
  }
  if (error instanceof TypeError && error.message.includes('directory does not exist')) {
    return new StoreError('cannot-open', `${doing}: ${error.message}`, { cause: error })
  }
  const words = error instanceof Error ? error.message : String(error)
  return new StoreError(systemCodeOf(error) ?? 'failed', `${doing}: ${words}`, { cause: error })
}
