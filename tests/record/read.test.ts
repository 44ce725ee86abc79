import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY, HOUR } from '../../src/model/time.js'
import { MIDNIGHT, open, readAll, sealAll, type Triple } from './support.js'

const arrival = fc.record({
  series: fc.integer({ min: 0, max: 3 }),
  t: fc.oneof(fc.integer({ min: 0, max: 40 }), fc.integer({ min: 0, max: 3 * DAY })),
  value: fc.constantFrom(1, 2, Number.NaN),
})

/** What the store should hold: the first value of each series and time, by time, then series. */
function model(arrivals: readonly { series: number; t: number; value: number }[]): Triple[] {
  const first = new Map<string, Triple>()
  for (const { series, t, value } of arrivals) {
    const key = `${series} ${t}`
    if (!first.has(key)) first.set(key, [series, MIDNIGHT + t, value])
  }
  return [...first.values()].sort((a, b) => a[1] - b[1] || a[0] - b[0])
}

describe('reading several series as one', () => {
  it('gives the same samples in the same order for every order of arrival, sealed or not', () => {
    const stores = fc.array(arrival, { maxLength: 120 })
    fc.assert(
      fc.property(stores, fc.array(fc.nat(120), { maxLength: 4 }), fc.nat(4), (arrivals, seals, reopen) => {
        const store = open()
        const ids = ['a', 'b', 'c', 'd'].map((key) => store.series('juniper', key))
        arrivals.forEach(({ series, t, value }, i) => {
          store.stage(ids[series] ?? 0, MIDNIGHT + t, value)
          if (i % (reopen + 1) === 0) store.commit()
          if (seals.includes(i)) {
            store.commit()
            sealAll(store, MIDNIGHT + 2 * DAY + (i % 3) * DAY, 7)
          }
        })
        store.commit()
        expect(readAll(store, ids)).toEqual(model(arrivals))
        sealAll(store, MIDNIGHT + 9 * DAY)
        expect(store.sizes().openSamples).toBe(0)
        expect(readAll(store, ids)).toEqual(model(arrivals))
        store.close()
      }),
      { numRuns: 60 },
    )
  })

  it('takes the start of the span in and leaves its end out, over midnight too', () => {
    const store = open()
    const a = store.series('juniper', 'a')
    for (let i = 0; i < 48; i++) store.stage(a, MIDNIGHT + i * HOUR, i)
    store.commit()
    const hours = (from: number, to: number) =>
      readAll(store, [a], MIDNIGHT + from * HOUR, MIDNIGHT + to * HOUR).map(([, , value]) => value)
    expect(hours(22, 26)).toEqual([22, 23, 24, 25])
    expect(hours(5, 5)).toEqual([])
    expect(hours(6, 5)).toEqual([])
    expect(hours(-100, 1)).toEqual([0])
  })

  it('orders samples of one instant by the place of their series in the list', () => {
    const store = open()
    const [a, b] = [store.series('juniper', 'a'), store.series('juniper', 'b')]
    store.stage(b, MIDNIGHT, 2)
    store.stage(a, MIDNIGHT, 1)
    store.commit()
    expect(readAll(store, [a, b]).map(([, , value]) => value)).toEqual([1, 2])
    expect(readAll(store, [b, a]).map(([, , value]) => value)).toEqual([2, 1])
  })

  it('lets the reader store samples while it reads, and does not show it those of the day under its eyes', () => {
    const store = open()
    const a = store.series('juniper', 'a')
    for (let i = 0; i < 100; i++) store.stage(a, MIDNIGHT + i * 2, i)
    store.commit()
    const seen: number[] = []
    store.read([a], 0, 2 * MIDNIGHT, (_, t) => {
      seen.push(t)
      store.stage(a, t + 1, -1)
    })
    expect(seen).toHaveLength(100)
    expect(readAll(store, [a])).toHaveLength(200)
  })

  it('knows nothing of a series that has no samples', () => {
    const store = open()
    const a = store.series('juniper', 'a')
    expect(readAll(store, [a])).toEqual([])
    expect(store.lastSample(a)).toBeNull()
    expect(store.chart(a, 0, MIDNIGHT, 10)).toEqual([])
  })
})
