import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY } from '../../src/model/time.js'
import { findTime, mergeColumns, OpenDay } from '../../src/record/open-day.js'

const value = fc.constantFrom(0, -0, 1, 1.5, Number.NaN)
const samples = fc.array(fc.tuple(fc.integer({ min: 0, max: 400 }), value), { maxLength: 1_200 })

function pairs(day: OpenDay): [number, number][] {
  const { n, t, v } = day.columns()
  return Array.from({ length: n }, (_, i) => [t[i] ?? -1, v[i] ?? Number.NaN])
}

describe('an open day', () => {
  it('holds the first value of each time in ascending order, whatever the order of arrival', () => {
    fc.assert(
      fc.property(samples, fc.integer({ min: 1, max: 50 }), (list, readEvery) => {
        const day = new OpenDay(0, Number.NEGATIVE_INFINITY)
        const model = new Map<number, number>()
        list.forEach(([t, v], i) => {
          const first = model.get(t)
          const expected = first === undefined ? 'new' : Object.is(first, v) ? 'duplicate' : 'conflict'
          expect(day.add(t, v)).toBe(expected)
          if (first === undefined) model.set(t, v)
          if (i % readEvery === 0) day.columns()
        })
        expect(day.size).toBe(model.size)
        expect(pairs(day)).toEqual([...model].sort((a, b) => a[0] - b[0]))
      }),
      { numRuns: 150 },
    )
  })

  it('forgets exactly what it is told to', () => {
    fc.assert(
      fc.property(samples, fc.array(fc.integer({ min: 0, max: 400 })), (list, gone) => {
        const day = new OpenDay(0, Number.NEGATIVE_INFINITY)
        for (const [t, v] of list) day.add(t, v)
        const kept = pairs(day).filter(([t]) => !gone.includes(t))
        day.forget(new Set(gone))
        expect(pairs(day)).toEqual(kept)
        for (const [t, v] of kept) expect(day.add(t, v)).toBe('duplicate')
      }),
      { numRuns: 100 },
    )
  })

  it('does not change columns that were handed out before', () => {
    const day = new OpenDay(0, Number.NEGATIVE_INFINITY)
    for (let i = 0; i < 100; i += 2) day.add(i, i)
    const before = day.columns()
    const copy = Array.from(before.t.subarray(0, before.n))
    for (let i = 1; i < 3_000; i += 2) day.add(i, i)
    day.columns()
    expect(Array.from(before.t.subarray(0, before.n))).toEqual(copy)
  })

  it('takes a day of one-second samples in reverse order, merging in few passes', () => {
    const day = new OpenDay(0, Number.NEGATIVE_INFINITY)
    for (let t = DAY - 1_000; t >= 0; t -= 1_000) day.add(t, t)
    const { n, t } = day.columns()
    expect(n).toBe(86_400)
    expect([t[0], t[43_200], t[86_399]]).toEqual([0, 43_200_000, 86_399_000])
  })
})

describe('finding and merging times', () => {
  it('finds a time, or says where it would go', () => {
    const times = Float64Array.of(10, 20, 30)
    expect([10, 20, 30].map((t) => findTime(times, 3, t))).toEqual([0, 1, 2])
    expect([5, 15, 25, 35].map((t) => ~findTime(times, 3, t))).toEqual([0, 1, 2, 3])
    expect(findTime(times, 0, 10)).toBe(-1)
  })

  it('merges two columns, the first winning where both have a time', () => {
    const a = { n: 2, t: Float64Array.of(1, 3), v: Float64Array.of(10, 30) }
    const b = { n: 3, t: Float64Array.of(2, 3, 4), v: Float64Array.of(21, 31, 41) }
    const { n, t, v } = mergeColumns(a, b)
    expect(Array.from(t.subarray(0, n))).toEqual([1, 2, 3, 4])
    expect(Array.from(v.subarray(0, n))).toEqual([10, 21, 30, 41])
  })
})
