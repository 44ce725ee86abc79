import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import type { ChartPoint } from '../../src/record/chart.js'
import type { Store } from '../../src/record/store.js'
import { MIDNIGHT, open, readAll, sealAll } from './support.js'

/** The same stretches, worked out from every sample. */
function byHand(store: Store, series: number, span: readonly [number, number], points: readonly ChartPoint[]) {
  const samples = readAll(store, [series], ...span).filter(([, , value]) => !Number.isNaN(value))
  return points.map(({ from, to }) => {
    const values = samples.filter(([, t]) => t >= from && t < to).map(([, , value]) => value)
    const sum = values.reduce((a, b) => a + b, 0)
    return { from, to, n: values.length, min: Math.min(...values), max: Math.max(...values), mean: sum / values.length }
  })
}

function expectByHand(store: Store, series: number, from: number, to: number, points: number): readonly ChartPoint[] {
  const found = store.chart(series, from, to, points)
  const expected = byHand(store, series, [from, to], found)
  const known = readAll(store, [series], from, to).filter(([, , value]) => !Number.isNaN(value)).length
  expect(found.reduce((n, point) => n + point.n, 0)).toBe(known)
  found.forEach((point, i) => {
    expect({ ...point, mean: 0 }).toEqual({ ...expected[i], mean: 0 })
    expect(point.mean).toBeCloseTo(expected[i]?.mean ?? Number.NaN, 9)
  })
  expect(found.length).toBeLessThanOrEqual(points + 1)
  return found
}

/** Forty days at ten minutes, a third of them sealed, with failures and a gap. */
function fortyDays(): { store: Store; series: number } {
  const store = open()
  const series = store.series('juniper', 'tank-level')
  const fill = (fromDay: number, toDay: number) => {
    for (let t = fromDay * DAY; t < toDay * DAY; t += 10 * MINUTE) {
      if (Math.floor(t / HOUR) % 50 === 7) continue
      store.stage(
        series,
        MIDNIGHT + t,
        t % (71 * MINUTE) === 0 ? Number.NaN : Math.sin(t / DAY) * 5 + ((t / MINUTE) % 7),
      )
    }
    store.commit()
  }
  fill(0, 30)
  sealAll(store, MIDNIGHT + 31 * DAY)
  fill(30, 40)
  // Late, into a day that is sealed already: its roll-ups alone would not tell.
  store.stage(series, MIDNIGHT + 12 * DAY + 7, 1_000)
  store.commit()
  return { store, series }
}

describe('a chart', () => {
  it('tells the same from samples and from roll-ups as working through every sample, for any span', () => {
    const { store, series } = fortyDays()
    const minute = fc.integer({ min: -DAY / MINUTE, max: (42 * DAY) / MINUTE })
    fc.assert(
      fc.property(minute, minute, fc.integer({ min: 1, max: 300 }), (a, b, points) => {
        const [from, to] = [MIDNIGHT + Math.min(a, b) * MINUTE, MIDNIGHT + Math.max(a, b) * MINUTE]
        expectByHand(store, series, from, to, points)
      }),
      { numRuns: 60 },
    )
  })

  it('keeps a single peak at every width', () => {
    const { store, series } = fortyDays()
    for (const points of [1, 7, 40, 400, 4_000]) {
      const found = store.chart(series, MIDNIGHT, MIDNIGHT + 40 * DAY, points)
      expect(Math.max(...found.map(({ max }) => max))).toBe(1_000)
    }
  })

  it('draws months in whole hours, years in whole days, a day in equal parts', () => {
    const { store, series } = fortyDays()
    const width = (days: number, points: number) => {
      const [first] = store.chart(series, MIDNIGHT, MIDNIGHT + days * DAY, points)
      return (first?.to ?? 0) - (first?.from ?? 0)
    }
    expect(width(1, 288)).toBe(5 * MINUTE)
    expect(width(40, 500)).toBe(2 * HOUR)
    expect(width(400, 100)).toBe(4 * DAY)
  })

  it('shows only failures as nothing', () => {
    const store = open()
    const series = store.series('juniper', 'air-temperature')
    store.stage(series, MIDNIGHT, Number.NaN)
    store.commit()
    expect(store.chart(series, MIDNIGHT - DAY, MIDNIGHT + DAY, 100)).toEqual([])
    sealAll(store, MIDNIGHT + 3 * DAY)
    expect(store.chart(series, MIDNIGHT - 100 * DAY, MIDNIGHT + 100 * DAY, 10)).toEqual([])
  })

  it('still draws days whose samples were dropped, from their roll-ups', () => {
    const { store, series } = fortyDays()
    const before = store.chart(series, MIDNIGHT, MIDNIGHT + 11 * DAY, 11)
    expect(store.prune(MIDNIGHT + 41 * DAY, 30).blocks).toBe(11)
    expect(store.chart(series, MIDNIGHT, MIDNIGHT + 11 * DAY, 11)).toEqual(before)
    expect(readAll(store, [series], MIDNIGHT, MIDNIGHT + 11 * DAY)).toEqual([])
  })
})
