import * as fc from 'fast-check'
import { expect, test } from 'vitest'
import { createFifo } from '../../src/receive/fifo.js'
import type { Settle } from '../../src/receive/receiver.js'

const arrival = { at: 0, topic: 'a', payload: new Uint8Array(0), retain: false }

test('answers leave in order of arrival, each once, whatever the order, the failures and the repeats of settling', () => {
  const order = fc.array(fc.record({ which: fc.nat(29), fail: fc.boolean() }), { maxLength: 200 })
  return fc.assert(
    fc.property(order, (settles) => {
      const open: Settle[] = []
      const answered: number[] = []
      const fifo = createFifo((_arrival, settle) => open.push(settle), 30)
      for (let i = 0; i < 30; i++) expect(fifo.offer(arrival, () => answered.push(i))).toBe(true)
      expect(fifo.offer(arrival, () => answered.push(99))).toBe(false)
      for (const { which, fail } of settles) open[which]?.(fail ? new Error('x') : null)
      const settled = new Set(settles.map((each) => each.which))
      let first = 0
      while (settled.has(first)) first++
      expect(answered).toEqual(Array.from({ length: first }, (_, i) => i))
      expect(fifo.held()).toBe(30 - first)
      const { received, settled: good, failed } = fifo.counts()
      expect([received, good + failed]).toEqual([30, first])
    }),
  )
})

test('an answer that offers the next message at once does not break the line, however long it gets', () => {
  let left = 50_000
  const fifo = createFifo((_arrival, settle) => settle(null), 10)
  const next = (): void => {
    if (left-- > 0) queueMicrotask(() => fifo.offer(arrival, next))
  }
  next()
  return new Promise<void>((resolve) => setImmediate(resolve)).then(() => {
    expect(fifo.counts()).toEqual({ received: 50_000, settled: 50_000, failed: 0 })
  })
})
