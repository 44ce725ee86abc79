import { copyFileSync, existsSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, MINUTE } from '../../src/model/time.js'
import type { Store } from '../../src/record/store.js'
import { folder, MIDNIGHT, open, readAll, sealAll } from './support.js'

const LATER = MIDNIGHT + 10 * DAY

function filled(store: Store, days: number, series = 5): number[] {
  const ids = Array.from({ length: series }, (_, i) => store.series('juniper', `tank-level.${i}`))
  for (let t = 0; t < days * DAY; t += MINUTE) {
    for (const id of ids) store.stage(id, MIDNIGHT + t, (t / MINUTE) % 100)
    if (t % (10 * MINUTE) === 0) store.commit()
  }
  store.commit()
  return ids
}

function logRows(file: string): number {
  const db = new Database(file, { readonly: true })
  const rows = db.prepare('SELECT count(*) FROM sample_log').pluck().get()
  db.close()
  return Number(rows)
}

/** The file as a power cut would leave it. */
function crashCopy(file: string): string {
  const copy = join(folder(), 'crashed.db')
  for (const suffix of ['', '-wal']) if (existsSync(file + suffix)) copyFileSync(file + suffix, copy + suffix)
  return copy
}

describe('sealing', () => {
  it('leaves today and yesterday open and packs what is older, then trims the log', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const ids = filled(store, 3)
    const before = readAll(store, ids)
    expect(store.sealDue(MIDNIGHT + DAY + LIMITS.sealAfterMs - 1)).toBe(false)
    expect(store.sealDue(MIDNIGHT + DAY + LIMITS.sealAfterMs)).toBe(true)
    sealAll(store, MIDNIGHT + 3 * DAY)
    expect(store.sizes()).toMatchObject({ blocks: 10, sealedSamples: 14_400, openSamples: 7_200 })
    expect(readAll(store, ids)).toEqual(before)
    // Some rows hold the end of one day and the start of the next: they stay.
    expect(logRows(file)).toBe(145)
    store.close()
    const again = open({ file })
    expect(again.sizes()).toMatchObject({ blocks: 10, openSamples: 7_200 })
    expect(readAll(again, ids)).toEqual(before)
  })

  it('works in bounded pieces and can be cut short after any of them without losing or doubling a sample', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const ids = filled(store, 2, 3)
    const before = readAll(store, ids)
    let pieces = 0
    while (store.sealDue(LATER)) {
      const done = store.seal(LATER, 1_000)
      expect(done.samples).toBeLessThanOrEqual(1_440)
      pieces++
      expect(readAll(store, ids)).toEqual(before)
      const crashed = open({ file: crashCopy(file) })
      expect(readAll(crashed, ids)).toEqual(before)
      expect(crashed.stage(ids[0] ?? 0, MIDNIGHT, 0)).toBe('duplicate')
      sealAll(crashed, LATER)
      expect(readAll(crashed, ids)).toEqual(before)
      expect(crashed.sizes()).toMatchObject({ openSamples: 0, sealedSamples: before.length })
      crashed.close()
    }
    expect(pieces).toBe(6)
    expect(logRows(file)).toBe(0)
  })

  it('keeps in the log what arrives late in the middle of a round', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const ids = filled(store, 2, 3)
    const first = ids[0] ?? 0
    store.seal(LATER, 1_000)
    expect(store.stage(first, MIDNIGHT + 1, 55)).toBe('new')
    store.commit()
    while (store.seal(LATER, 1_000).left > 0);
    const again = open({ file: crashCopy(file) })
    expect(again.stage(first, MIDNIGHT + 1, 55)).toBe('duplicate')
    expect(readAll(again, [first])[1]).toEqual([0, MIDNIGHT + 1, 55])
  })

  it('knows repeats and contradictions of sealed samples, and merges late ones at the next sealing', () => {
    const store = open()
    const [first = 0] = filled(store, 1, 1)
    sealAll(store, LATER)
    expect(store.stage(first, MIDNIGHT + MINUTE, 1)).toBe('duplicate')
    expect(store.stage(first, MIDNIGHT + MINUTE, 2)).toBe('conflict')
    expect(store.sealDue(LATER)).toBe(false)
    expect(store.stage(first, MIDNIGHT + MINUTE + 1, 7)).toBe('new')
    expect(store.stage(first, MIDNIGHT + MINUTE + 1, 7)).toBe('duplicate')
    store.commit()
    expect(readAll(store, [first]).slice(0, 4)).toEqual([
      [0, MIDNIGHT, 0],
      [0, MIDNIGHT + MINUTE, 1],
      [0, MIDNIGHT + MINUTE + 1, 7],
      [0, MIDNIGHT + 2 * MINUTE, 2],
    ])
    expect(store.sealDue(LATER)).toBe(true)
    expect(sealAll(store, LATER)).toBe(1)
    expect(store.sizes()).toMatchObject({ sealedSamples: 1_441, openSamples: 0 })
    expect(store.stage(first, MIDNIGHT + MINUTE + 1, 7)).toBe('duplicate')
  })

  it('does not wait for a reader that holds the write-ahead log, and cuts the log the next time', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    filled(store, 1, 1)
    const reader = new Database(file, { readonly: true })
    reader.exec('BEGIN')
    reader.prepare('SELECT count(*) FROM block').get()
    const start = process.hrtime.bigint()
    sealAll(store, LATER)
    // Waiting would take the five seconds of the busy timeout.
    expect(Number(process.hrtime.bigint() - start) / 1e9).toBeLessThan(3)
    expect(store.sizes().walBytes).toBeGreaterThan(0)
    reader.close()
    store.stage(store.series('juniper', 'tank-level.0'), MIDNIGHT + 1, 1)
    store.commit()
    sealAll(store, LATER)
    expect(store.sizes().walBytes).toBe(0)
  })

  it('refuses to work between staging and commit', () => {
    const store = open()
    filled(store, 1, 1)
    store.stage(1, LATER, 1)
    expect(() => store.seal(LATER)).toThrow(/between stage and commit/)
  })

  it('seals today early when memory is full, and goes on into the same day', () => {
    const store = open()
    const ids = Array.from({ length: 100 }, (_, i) => store.series('fern', `tank-level.${i}`))
    const count = LIMITS.openSamplesMax / 100 + 1
    for (let i = 0; i < count; i++) for (const id of ids) store.stage(id, MIDNIGHT + i, i % 3)
    store.commit()
    expect(store.sealDue(MIDNIGHT + DAY)).toBe(true)
    sealAll(store, MIDNIGHT + DAY)
    expect(store.sizes()).toMatchObject({ openSamples: 0, sealedSamples: count * 100, blocks: 100 })
    expect(store.stage(ids[0] ?? 0, MIDNIGHT + count, 1)).toBe('new')
    expect(store.stage(ids[0] ?? 0, MIDNIGHT + 5, 2)).toBe('duplicate')
    store.commit()
    expect(store.lastSample(ids[0] ?? 0)).toEqual({ t: MIDNIGHT + count, value: 1 })
    let n = 0
    store.read([ids[0] ?? 0], MIDNIGHT, MIDNIGHT + DAY, () => {
      n++
    })
    expect(n).toBe(count + 1)
  })
})

describe('retention', () => {
  it('drops samples of days older than asked, and nothing else', () => {
    const store = open()
    const [first = 0] = filled(store, 4, 1)
    sealAll(store, LATER)
    store.prune(MIDNIGHT + 4 * DAY, 2)
    const left = readAll(store, [first])
    expect(left[0]).toEqual([0, MIDNIGHT + 2 * DAY, ((2 * DAY) / MINUTE) % 100])
    expect(left).toHaveLength(2 * 1_440)
    expect(store.lastSample(first)?.t).toBe(MIDNIGHT + 4 * DAY - MINUTE)
    store.prune(MIDNIGHT + 40 * DAY, 2)
    expect(store.lastSample(first)).toBeNull()
  })

  it('refuses to keep less than a day', () => {
    const store = open()
    expect(() => store.prune(LATER, 0)).toThrow(/0 days/)
    expect(() => store.prune(LATER, Number.NaN)).toThrow(/NaN days/)
  })
})
