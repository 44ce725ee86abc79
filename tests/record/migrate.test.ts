import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { migrate } from '../../src/record/migrate.js'
import { APPLICATION_ID, MIGRATIONS } from '../../src/record/schema.js'
import { Sql } from '../../src/record/sql.js'
import { folder, MIDNIGHT, open, readAll } from './support.js'

const FIXTURE = readFileSync(new URL('fixtures/version-1.sql', import.meta.url), 'utf8')

function fileOfVersion1(): string {
  const file = join(folder(), 'a.db')
  const db = new Database(file)
  db.exec(FIXTURE)
  db.close()
  return file
}

function versionOf(file: string): unknown {
  const db = new Database(file, { readonly: true })
  const version = db.pragma('user_version', { simple: true })
  db.close()
  return version
}

describe('migrating', () => {
  it('opens a file of version 1 and finds everything in it', () => {
    const file = fileOfVersion1()
    const store = open({ file })
    expect(store.startedWith).toBe('existing')
    const level = store.series('juniper', 'tank-level')
    expect(readAll(store, [level])).toEqual([
      [0, MIDNIGHT, 1.25],
      [0, MIDNIGHT + 10_000, 1.5],
      [0, MIDNIGHT + 20_000, Number.NaN],
      [0, MIDNIGHT + 30_500, -2],
      [0, MIDNIGHT + 86_400_000, 1.75],
    ])
    expect(store.journal.list('juniper', 0, MIDNIGHT * 2)).toEqual([
      { id: 1, site: 'juniper', at: MIDNIGHT, by: 'owner', text: 'new pump', newBaseline: true, upkeep: null },
    ])
    expect(store.cycles.list('juniper', 0, MIDNIGHT * 2)[0]).toMatchObject({ durationS: 1_800, energyWh: null })
    expect(store.modes.get('juniper')).toEqual({ away: true, winterized: null, maintenanceUntil: null })
    store.close()
    expect(versionOf(file)).toBe(MIGRATIONS.length)
  })

  it('leaves the file as it was before a step that fails', () => {
    const file = fileOfVersion1()
    const db = new Database(file)
    const bad = [...MIGRATIONS, 'CREATE TABLE extra (a INTEGER) STRICT; INSERT INTO nowhere VALUES (1)']
    expect(() => migrate(new Sql(db), bad, file)).toThrow(
      new RegExp(`from version ${MIGRATIONS.length} to ${MIGRATIONS.length + 1}.*nowhere`),
    )
    expect(db.prepare("SELECT name FROM sqlite_schema WHERE name = 'extra'").all()).toEqual([])
    db.close()
    expect(versionOf(file)).toBe(MIGRATIONS.length)
  })

  it('applies only the steps that are missing', () => {
    const db = new Database(fileOfVersion1())
    const steps = [...MIGRATIONS, 'CREATE TABLE extra (a INTEGER) STRICT', 'INSERT INTO extra VALUES (3)']
    expect(migrate(new Sql(db), steps, 'a.db')).toBe(false)
    expect(migrate(new Sql(db), steps, 'a.db')).toBe(false)
    expect(db.prepare('SELECT a FROM extra').pluck().all()).toEqual([3])
    expect(db.pragma('user_version', { simple: true })).toBe(MIGRATIONS.length + 2)
    db.close()
  })

  it('refuses a file of a newer version and one of another program, and changes neither', () => {
    const newer = fileOfVersion1()
    const one = new Database(newer)
    one.pragma('user_version = 99')
    one.close()
    expect(() => open({ file: newer })).toThrow(`found version 99 of the store, expected ${MIGRATIONS.length} or less`)
    expect(versionOf(newer)).toBe(99)
    const other = join(folder(), 'other.db')
    const two = new Database(other)
    two.exec('CREATE TABLE recipes (name TEXT)')
    two.close()
    expect(() => open({ file: other })).toThrow(`expected ${APPLICATION_ID}`)
    const three = new Database(other, { readonly: true })
    expect(three.prepare('SELECT name FROM sqlite_schema').pluck().all()).toEqual(['recipes'])
    three.close()
  })
})
