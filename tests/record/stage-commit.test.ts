import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { SECOND } from '../../src/model/time.js'
import { StoreError } from '../../src/record/store-error.js'
import { folder, NOON, open, readAll } from './support.js'

describe('staging and committing samples', () => {
  it('gives a signal one number for ever, and other numbers to other signals and sites', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const level = store.series('juniper', 'tank-level')
    expect(store.series('juniper', 'tank-level')).toBe(level)
    const others = [store.series('juniper', 'pump-current'), store.series('fern', 'tank-level')]
    expect(new Set([level, ...others]).size).toBe(3)
    store.stage(level, NOON, 1)
    store.commit()
    store.close()
    const again = open({ file })
    expect(again.series('juniper', 'tank-level')).toBe(level)
    expect(again.series('fern', 'tank-level')).toBe(others[1])
    expect(again.seriesList('juniper').map(({ key }) => key)).toEqual(['tank-level', 'pump-current'])
  })

  it('tells a new sample from a repeat and from a contradiction, and keeps the first', () => {
    const store = open()
    const level = store.series('juniper', 'tank-level')
    expect(store.stage(level, NOON, 1.25)).toBe('new')
    expect(store.stage(level, NOON, 1.25)).toBe('duplicate')
    expect(store.stage(level, NOON, 1.5)).toBe('conflict')
    expect(store.stage(level, NOON - SECOND, 1)).toBe('new')
    expect(store.stage(level, NOON - SECOND, 1)).toBe('duplicate')
    expect(store.stage(level, NOON - SECOND, 2)).toBe('conflict')
    store.commit()
    expect(readAll(store, [level])).toEqual([
      [0, NOON - SECOND, 1],
      [0, NOON, 1.25],
    ])
  })

  it('takes NaN as equal to NaN, and 0 as different from -0', () => {
    const store = open()
    const air = store.series('juniper', 'air-temperature')
    expect(store.stage(air, NOON, Number.NaN)).toBe('new')
    expect(store.stage(air, NOON, Number.NaN)).toBe('duplicate')
    expect(store.stage(air, NOON, 4)).toBe('conflict')
    expect(store.stage(air, NOON + 1, 0)).toBe('new')
    expect(store.stage(air, NOON + 1, -0)).toBe('conflict')
  })

  it.each([-1, 0.5, Number.NaN, Number.POSITIVE_INFINITY, 9e15])('refuses %d as a time', (t) => {
    const store = open()
    expect(() => store.stage(store.series('juniper', 'tank-level'), t, 1)).toThrow(StoreError)
    expect(store.sizes().openSamples).toBe(0)
  })

  it('reads back after closing what was committed, and nothing of what was only staged', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const level = store.series('juniper', 'tank-level')
    for (let i = 0; i < 3_000; i++) store.stage(level, NOON + i * SECOND, i === 7 ? Number.NaN : i / 8)
    store.commit()
    const before = readAll(store, [level])
    store.stage(level, NOON - SECOND, 99)
    store.close()
    const again = open({ file })
    expect(again.startedWith).toBe('existing')
    expect(readAll(again, [level])).toEqual(before)
    expect(again.lastSample(level)).toEqual({ t: NOON + 2_999 * SECOND, value: 2_999 / 8 })
  })

  it('runs extra work in the same transaction, and forgets the samples when it throws', () => {
    const store = open()
    const level = store.series('juniper', 'tank-level')
    store.stage(level, NOON, 1)
    store.commit(() => store.judge.save('juniper', NOON, 'one'))
    store.stage(level, NOON + 2, 2)
    store.stage(level, NOON - 2, 3)
    store.noteRefusal('juniper', { reason: 'unit', board: 'tank-board', at: NOON, example: 'K' })
    const failing = () =>
      store.commit(() => {
        store.judge.save('juniper', NOON, 'two')
        throw new Error('no')
      })
    expect(failing).toThrow(StoreError)
    expect(readAll(store, [level])).toEqual([[0, NOON, 1]])
    expect(store.lastSample(level)).toEqual({ t: NOON, value: 1 })
    expect(store.judge.load('juniper')).toEqual({ at: NOON, text: 'one' })
    expect(store.refusals('juniper')).toEqual([])
    expect(store.stage(level, NOON + 2, 2)).toBe('new')
    store.commit()
    expect(readAll(store, [level])).toHaveLength(2)
  })

  it('refuses to commit inside a transaction, whose rollback the samples would not follow', () => {
    const store = open()
    store.stage(store.series('juniper', 'tank-level'), NOON, 1)
    expect(() => store.transaction(() => store.commit())).toThrow(/inside a transaction/)
  })
})
