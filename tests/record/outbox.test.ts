import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import type { Message } from '../../src/model/message.js'
import { folder, NOON, open } from './support.js'

function message(key: string, more: Partial<Message> = {}): Message {
  return {
    site: 'juniper',
    key,
    kind: 'alarm',
    person: 'ops',
    way: 'mail-1',
    about: 'dry-well:pump',
    priority: 'high',
    at: NOON,
    subject: 'The well has run dry',
    text: 'text',
    html: null,
    short: 'short',
    due: NOON,
    ...more,
  }
}

describe('the outbox', () => {
  it('takes a message once by site and key, whatever became of it', () => {
    const store = open()
    expect(store.outbox.add(message('a'))).toBe(true)
    expect(store.outbox.add(message('a', { text: 'other' }))).toBe(false)
    expect(store.outbox.add(message('a', { site: 'fern' }))).toBe(true)
    const [row] = store.outbox.list('juniper', 9)
    store.outbox.sent(row?.id ?? 0, NOON + 1)
    expect(store.outbox.add(message('a'))).toBe(false)
    expect([store.outbox.has('juniper', 'a'), store.outbox.has('juniper', 'b')]).toEqual([true, false])
    expect(store.outbox.list('juniper', 9)[0]).toEqual({
      ...message('a'),
      id: row?.id,
      state: 'sent',
      attempts: 1,
      nextAt: NOON,
      sentAt: NOON + 1,
      error: null,
    })
  })

  it('hands out what is due, the most urgent first, then the oldest', () => {
    const store = open()
    store.outbox.add(message('low', { priority: 'low' }))
    store.outbox.add(message('first'))
    store.outbox.add(message('second'))
    store.outbox.add(message('held', { priority: 'critical', due: NOON + 10 }))
    const due = (now: number, limit = 9) => store.outbox.due(now, limit).map(({ key }) => key)
    expect(due(NOON - 1)).toEqual([])
    expect(due(NOON)).toEqual(['first', 'second', 'low'])
    expect(due(NOON + 10)).toEqual(['held', 'first', 'second', 'low'])
    expect(due(NOON + 10, 2)).toEqual(['held', 'first'])
  })

  it('waits for the next try, counts tries, and gives up when told', () => {
    const store = open()
    store.outbox.add(message('a'))
    const id = store.outbox.due(NOON, 1)[0]?.id ?? 0
    store.outbox.retry(id, NOON + 60_000, '451 later')
    expect(store.outbox.due(NOON + 59_999, 9)).toEqual([])
    expect(store.outbox.due(NOON + 60_000, 9)[0]).toMatchObject({ attempts: 1, error: '451 later', due: NOON })
    store.outbox.failed(id, '550 no')
    expect(store.outbox.due(NOON * 2, 9)).toEqual([])
    expect(store.outbox.list('juniper', 9)[0]).toMatchObject({ state: 'failed', attempts: 2, error: '550 no' })
    expect(store.outbox.counts()).toEqual({ waiting: 0, sent: 0, failed: 1 })
  })

  it('is in or out together with the alarm that asks for it', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const half = () =>
      store.transaction(() => {
        store.outbox.add(message('a'))
        store.judge.save('juniper', NOON, 'raised')
        throw new RangeError('stopped half way')
      })
    expect(half).toThrow(RangeError)
    expect(store.outbox.list('juniper', 9)).toEqual([])
    expect(store.judge.load('juniper')).toBeNull()
    expect(store.transaction(() => store.outbox.add(message('a')))).toBe(true)
    store.close()
    expect(open({ file }).outbox.due(NOON, 9)).toHaveLength(1)
  })

  it('is bounded: what is settled goes first, then the least urgent, never the newest', () => {
    const store = open()
    store.transaction(() => {
      for (let i = 0; i < LIMITS.outboxMax; i++) {
        store.outbox.add(message(`m${i}`, { priority: i === 0 ? 'critical' : i < 10 ? 'low' : 'high' }))
      }
    })
    const settled = store.outbox.due(NOON, 20).at(-1)
    store.outbox.sent(settled?.id ?? 0, NOON)
    store.outbox.add(message('newest', { priority: 'low' }))
    expect(store.outbox.counts()).toEqual({ waiting: LIMITS.outboxMax, sent: 0, failed: 0 })
    store.outbox.add(message('another', { priority: 'low' }))
    expect(store.outbox.counts().waiting).toBe(LIMITS.outboxMax)
    const keys = new Set(store.outbox.list('juniper', LIMITS.outboxMax).map(({ key }) => key))
    expect(['m0', 'm2', 'newest', 'another', `m1`, settled?.key ?? ''].map((key) => keys.has(key))).toEqual([
      true,
      true,
      true,
      true,
      false,
      false,
    ])
  })
})

describe('ways of telling', () => {
  it('remember when each was last proved, and what it answered when it failed', () => {
    const store = open()
    store.ways.note('juniper', 'mail-1', NOON, null)
    store.ways.note('juniper', 'mail-1', NOON + 5, 'refused')
    store.ways.note('juniper', 'hook-1', NOON, 'no route')
    expect(store.ways.list('juniper')).toEqual([
      { way: 'hook-1', provedAt: null, error: 'no route', errorAt: NOON },
      { way: 'mail-1', provedAt: NOON, error: 'refused', errorAt: NOON + 5 },
    ])
    store.ways.note('juniper', 'hook-1', NOON + 9, null)
    expect(store.ways.list('juniper')[0]).toEqual({ way: 'hook-1', provedAt: NOON + 9, error: null, errorAt: null })
    expect(store.ways.list('fern')).toEqual([])
  })
})
