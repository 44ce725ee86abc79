import { existsSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { DAY, MINUTE } from '../../src/model/time.js'
import type { Store } from '../../src/record/store.js'
import { StoreError } from '../../src/record/store-error.js'
import { folder, MIDNIGHT, NOON, open, readAll, sealAll } from './support.js'

function errorOf(work: () => unknown): StoreError {
  try {
    work()
  } catch (error) {
    if (error instanceof StoreError) return error
    throw error
  }
  throw new Error('expected a StoreError, found none')
}

/** Stages and commits `count` minutes from `from`; returns how many commits were kept until the first failure. */
function fillUp(
  store: Store,
  series: number,
  from: number,
  commits: number,
): { kept: number; error: StoreError | null } {
  for (let i = 0; i < commits; i++) {
    for (let k = 0; k < 60; k++) store.stage(series, from + (i * 60 + k) * MINUTE, Math.sin(i * 60 + k))
    try {
      store.commit()
    } catch (error) {
      if (error instanceof StoreError) return { kept: i, error }
      throw error
    }
  }
  return { kept: commits, error: null }
}

/** Writes nonsense over the middle of some pages, as a worn card does. */
function scribble(file: string, pages: readonly number[]): void {
  const bytes = readFileSync(file)
  for (const page of pages) bytes.fill(0xa5, page * 4_096, (page + 1) * 4_096)
  writeFileSync(file, bytes)
}

describe('a full disk', () => {
  it('fails the commit with a code and a hint, keeps what was committed, and goes on once there is room', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file, bytesMax: 400_000 })
    const series = store.series('juniper', 'tank-level')
    const { kept, error } = fillUp(store, series, MIDNIGHT, 2_000)
    expect(error?.code).toBe('full')
    expect(error?.hint).toMatch(/free some space/)
    expect(kept).toBeGreaterThan(50)
    expect(readAll(store, [series])).toHaveLength(kept * 60)
    // The board sends again: it is new again, not a repeat, and fails again without harm.
    expect(store.stage(series, MIDNIGHT + kept * 60 * MINUTE, Math.sin(kept * 60))).toBe('new')
    store.close()
    const roomy = open({ file })
    expect(roomy.startedWith).toBe('existing')
    expect(readAll(roomy, [series])).toHaveLength(kept * 60)
    expect(fillUp(roomy, series, MIDNIGHT + kept * 60 * MINUTE, 10).error).toBeNull()
    expect(roomy.check()).toEqual([])
  })

  it('goes on by itself after old samples were dropped', () => {
    const store = open({ file: join(folder(), 'a.db'), bytesMax: 900_000 })
    const series = store.series('juniper', 'tank-level')
    expect(fillUp(store, series, MIDNIGHT, 24 * 8).error).toBeNull()
    sealAll(store, MIDNIGHT + 20 * DAY)
    const { kept, error } = fillUp(store, series, MIDNIGHT + 8 * DAY, 2_000)
    expect(error?.code).toBe('full')
    store.prune(MIDNIGHT + 20 * DAY, 5)
    const after = MIDNIGHT + 8 * DAY + kept * 60 * MINUTE
    expect(fillUp(store, series, after, 5).error).toBeNull()
    expect(readAll(store, [series], MIDNIGHT + 8 * DAY)).toHaveLength((kept + 5) * 60)
  })
})

describe('a file that cannot be had', () => {
  it('says that another daemon has it, and lets readers in all the same', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const series = store.series('juniper', 'tank-level')
    store.stage(series, NOON, 1)
    store.commit()
    expect(errorOf(() => open({ file })).code).toBe('in-use')
    const reader = open({ file, readOnly: true })
    expect(readAll(reader, [series])).toEqual([[0, NOON, 1]])
    reader.stage(series, NOON + 1, 2)
    expect(errorOf(() => reader.commit()).code).toBe('read-only')
    reader.close()
    store.close()
    expect(open({ file }).startedWith).toBe('existing')
  })

  it('names a folder that is not there', () => {
    const error = errorOf(() => open({ file: join(folder(), 'nowhere', 'a.db') }))
    expect([error.code, error.message]).toEqual(['cannot-open', expect.stringContaining('nowhere')])
  })

  it.each([
    ['deleted', (file: string) => rmSync(file), 'deleted or moved'],
    ['replaced', (file: string) => writeFileSync(`${file}.new`, ''), 'replaced'],
  ])('takes nothing more into a file that was %s beneath it, and forgets what was staged', (what, change, said) => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const series = store.series('juniper', 'tank-level')
    store.stage(series, NOON, 1)
    store.commit()
    change(file)
    if (what === 'replaced') renameSync(`${file}.new`, file)
    store.stage(series, NOON + 1, 2)
    const error = errorOf(() => store.commit())
    expect([error.code, error.message]).toEqual(['gone', expect.stringContaining(said)])
    expect(readAll(store, [series])).toEqual([[0, NOON, 1]])
    store.close()
  })

  it('answers "closed" after closing, and closing twice is harmless', () => {
    const store = open()
    store.close()
    store.close()
    expect(errorOf(() => store.journal.list('juniper', 0, 1)).code).toBe('closed')
  })
})

describe('a damaged file', () => {
  it('is moved aside when it is no database at all, and a new one begun', () => {
    const home = folder()
    const file = join(home, 'a.db')
    writeFileSync(file, 'not a database, '.repeat(1_000))
    const store = open({ file, now: 1234 })
    expect(store.start).toMatchObject({ kind: 'set-aside', file: `${file}.damaged-1234`, salvaged: [] })
    expect(readFileSync(`${file}.damaged-1234`, 'utf8')).toMatch(/^not a database/)
    store.stage(store.series('juniper', 'tank-level'), NOON, 1)
    store.commit()
    expect(readdirSync(home)).toContain('a.db')
  })

  it('gives up a few pages, not the accounts, the journal and the other days', async () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const series = store.series('juniper', 'tank-level')
    await store.accounts.add({ name: 'owner', role: 'owner' }, 'a long enough secret', NOON)
    store.journal.add({ site: 'juniper', at: NOON, by: 'owner', text: 'new pump', newBaseline: true })
    fillUp(store, series, MIDNIGHT, 24 * 60)
    sealAll(store, MIDNIGHT + 90 * DAY)
    const before = readAll(store, [series])
    store.close()
    const db = new Database(file, { readonly: true })
    const pages = db.prepare("SELECT pageno FROM dbstat WHERE name = 'block' AND pagetype = 'leaf'").pluck().all()
    db.close()
    scribble(
      file,
      pages.slice(3, 5).map((page) => Number(page) - 1),
    )
    const again = open({ file, check: true, now: 99 })
    expect(again.start.kind).toBe('set-aside')
    expect(await again.accounts.verify('owner', 'a long enough secret')).toEqual({ name: 'owner', role: 'owner' })
    expect(again.journal.list('juniper', 0, NOON + 1)).toHaveLength(1)
    const after = readAll(again, [again.series('juniper', 'tank-level')])
    expect(after.length).toBeGreaterThan(before.length * 0.8)
    expect(after.length).toBeLessThan(before.length)
    const known = new Map(before.map(([, t, value]) => [t, value]))
    expect(after.filter(([, t, value]) => !Object.is(known.get(t), value))).toEqual([])
    expect(again.check()).toEqual([])
  })

  it('is noticed without being asked after an unclean stop', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    fillUp(store, store.series('juniper', 'tank-level'), MIDNIGHT, 24 * 60)
    sealAll(store, MIDNIGHT + 90 * DAY)
    store.close()
    scribble(file, [20, 21, 22])
    writeFileSync(`${file}-wal`, 'left behind')
    const again = open({ file, now: 7 })
    expect(again.startedWith).toBe('set-aside')
    expect(existsSync(`${file}.damaged-7`)).toBe(true)
  })

  it('leaves out a single damaged block, says so, and reads the days around it', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const series = store.series('juniper', 'tank-level')
    fillUp(store, series, MIDNIGHT, 24 * 3)
    sealAll(store, MIDNIGHT + 90 * DAY)
    store.close()
    const db = new Database(file)
    db.prepare('UPDATE block SET data = zeroblob(length(data)) WHERE day = ?').run(MIDNIGHT / DAY + 1)
    db.close()
    const again = open({ file })
    expect(again.troubles()).toEqual([])
    expect(readAll(again, [series])).toHaveLength(2 * 1_440)
    expect(again.troubles()).toEqual([expect.stringMatching(/2026-01-16: block is of an unknown form/)])
    expect(again.check()).toHaveLength(1)
  })
})
