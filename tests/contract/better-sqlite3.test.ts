import { statSync } from 'node:fs'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { crc32 } from 'node:zlib'
import Database from 'better-sqlite3'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'

/** What the store relies on in better-sqlite3 and SQLite. An upgrade that breaks a promise fails here, by name. */
let home = ''
let file = ''
const open: Database.Database[] = []

function connect(options: Database.Options = {}): Database.Database {
  const db = new Database(file, options)
  open.push(db)
  return db
}

function codeOf(work: () => unknown): string {
  try {
    work()
  } catch (error) {
    if (error instanceof Database.SqliteError) return error.code
    return error instanceof Error ? error.constructor.name : 'not an error'
  }
  return 'nothing thrown'
}

beforeEach(() => {
  home = mkdtempSync(join(tmpdir(), 'sqlite-contract-'))
  file = join(home, 'a.db')
})

afterEach(() => {
  for (const db of open.splice(0)) db.close()
  rmSync(home, { recursive: true, force: true })
})

describe('better-sqlite3', () => {
  it('carries an SQLite with the WAL-reset fix of 3.51.3', () => {
    const version = String(connect().prepare('SELECT sqlite_version()').pluck().get())
    const [major = 0, minor = 0, patch = 0] = version.split('.').map(Number)
    expect(major * 1e6 + minor * 1e3 + patch).toBeGreaterThanOrEqual(3_051_003)
  })

  it('keeps synchronous = FULL that was set by hand, over writes', () => {
    const db = connect()
    db.pragma('journal_mode = WAL')
    db.pragma('synchronous = FULL')
    db.exec('CREATE TABLE a (x REAL NOT NULL) STRICT; INSERT INTO a VALUES (1)')
    expect(db.pragma('synchronous', { simple: true })).toBe(2)
  })

  it('binds NaN and undefined as NULL, which NOT NULL refuses', () => {
    const db = connect()
    db.exec('CREATE TABLE a (x REAL) STRICT; CREATE TABLE b (x REAL NOT NULL) STRICT')
    db.prepare('INSERT INTO a VALUES (?)').run(Number.NaN)
    expect(db.prepare('SELECT x FROM a').pluck().get()).toBeNull()
    expect(codeOf(() => db.prepare('INSERT INTO b VALUES (?)').run(Number.NaN))).toBe('SQLITE_CONSTRAINT_NOTNULL')
  })

  it('keeps subnormals and infinities in a REAL column', () => {
    const db = connect()
    db.exec('CREATE TABLE a (x REAL NOT NULL) STRICT')
    for (const value of [5e-324, Number.POSITIVE_INFINITY, 1e308]) {
      db.exec('DELETE FROM a')
      db.prepare('INSERT INTO a VALUES (?)').run(value)
      expect(db.prepare('SELECT x FROM a').pluck().get()).toBe(value)
    }
  })

  it('refuses text in an INTEGER column of a STRICT table', () => {
    const db = connect()
    db.exec('CREATE TABLE a (x INTEGER NOT NULL) STRICT')
    expect(codeOf(() => db.prepare('INSERT INTO a VALUES (?)').run('one'))).toBe('SQLITE_CONSTRAINT_DATATYPE')
  })

  it('answers SQLITE_FULL at max_page_count and can be written again when there is room', () => {
    const db = connect()
    db.pragma('journal_mode = WAL')
    db.exec('CREATE TABLE a (x BLOB NOT NULL) STRICT')
    db.pragma('max_page_count = 20')
    const insert = db.prepare('INSERT INTO a VALUES (zeroblob(200000))')
    expect(codeOf(() => insert.run())).toBe('SQLITE_FULL')
    expect(db.inTransaction).toBe(false)
    db.pragma('max_page_count = 1000')
    expect(insert.run().changes).toBe(1)
  })

  it('lets one connection hold a file against another until it closes, without waiting', () => {
    const first = connect({ timeout: 0 })
    first.exec('BEGIN EXCLUSIVE')
    expect(codeOf(() => connect({ timeout: 0 }).exec('BEGIN EXCLUSIVE'))).toBe('SQLITE_BUSY')
    first.close()
    expect(codeOf(() => connect({ timeout: 0 }).exec('BEGIN EXCLUSIVE'))).toBe('nothing thrown')
  })

  it('folds the write-ahead log away at wal_checkpoint(TRUNCATE)', () => {
    const db = connect()
    db.pragma('journal_mode = WAL')
    db.exec('CREATE TABLE a (x INTEGER) STRICT')
    expect(statSync(`${file}-wal`).size).toBeGreaterThan(0)
    db.pragma('wal_checkpoint(TRUNCATE)')
    expect(statSync(`${file}-wal`).size).toBe(0)
  })

  it('throws a TypeError that names the closed connection', () => {
    const db = connect()
    const statement = db.prepare('SELECT 1')
    db.close()
    expect(() => statement.get()).toThrow(/connection is not open/)
  })

  it('copies a file that another connection has open, read-only, with VACUUM INTO', () => {
    const db = connect()
    db.pragma('journal_mode = WAL')
    db.exec('CREATE TABLE a (x INTEGER) STRICT; INSERT INTO a VALUES (7)')
    connect({ readonly: true }).prepare('VACUUM INTO ?').run(`${file}.copy`)
    const copy = new Database(`${file}.copy`)
    open.push(copy)
    expect(copy.prepare('SELECT x FROM a').pluck().get()).toBe(7)
  })
})

describe('node:zlib', () => {
  it('computes the CRC-32 whose check value is cbf43926 (ITU-T V.42 polynomial; check value of the CRC catalogues)', () => {
    expect(crc32('123456789')).toBe(0xcbf43926)
  })
})
