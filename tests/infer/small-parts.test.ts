import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { Random } from '../../simulators/random.js'
import { findDraws } from '../../src/infer/draws.js'
import { levelAtEnd } from '../../src/infer/level-at.js'
import { Order } from '../../src/infer/order.js'
import { between, createRing, firstFrom, pointsBetween, remember } from '../../src/infer/ring.js'
import { believe, createScreen } from '../../src/infer/screen.js'
import { createUsual, learn, usual } from '../../src/infer/usual.js'
import { ROLES } from '../../src/model/roles.js'
import { MINUTE, SECOND } from '../../src/model/time.js'

describe('the order in which readings leave', () => {
  const reading = fc.record({ signal: fc.nat(5), t: fc.integer({ min: 0, max: 300 }), value: fc.nat() })

  it('is that of (time, signal), whatever the order in which they came and were asked for', () => {
    const step = fc.record({ come: fc.array(reading, { maxLength: 12 }), until: fc.integer({ min: 0, max: 320 }) })
    fc.assert(
      fc.property(fc.array(step, { maxLength: 12 }), (steps) => {
        const order = new Order()
        let waiting: { signal: number; t: number; value: number }[] = []
        for (const { come, until } of steps) {
          for (const one of come) {
            order.add(one.signal, one.t, one.value)
            waiting.push(one)
          }
          const out: { signal: number; t: number; value: number }[] = []
          order.release(until, (signal, t, value) => out.push({ signal, t, value }))
          const due = waiting.filter(({ t }) => t < until).sort((a, b) => a.t - b.t || a.signal - b.signal)
          expect(out.map(({ t, signal }) => [t, signal])).toEqual(due.map(({ t, signal }) => [t, signal]))
          expect(out.map(({ value }) => value).sort()).toEqual(due.map(({ value }) => value).sort())
          waiting = waiting.filter(({ t }) => t >= until)
          expect(order.size).toBe(waiting.length)
        }
      }),
    )
  })
})

describe('the short memory', () => {
  it('keeps the newest, at least as many as it was made for, and no more than a quarter above', () => {
    fc.assert(
      fc.property(fc.integer({ min: 4, max: 40 }), fc.integer({ min: 0, max: 200 }), (capacity, count) => {
        const ring = createRing(capacity)
        for (let i = 0; i < count; i += 1) remember(ring, 10 * i, i)
        expect(ring.v.length).toBeGreaterThanOrEqual(Math.min(count, capacity))
        expect(ring.v.length).toBeLessThanOrEqual(capacity + (capacity >> 2))
        expect(ring.v).toEqual(Array.from({ length: ring.v.length }, (_, i) => count - ring.v.length + i))
        expect(ring.t).toEqual(ring.v.map((v) => 10 * v))
      }),
    )
  })

  it('is asked by time, both ends included: the newest of a span, or the first', () => {
    const ring = createRing(50)
    for (let i = 0; i < 20; i += 1) remember(ring, 10 * i, i)
    expect(between(ring, 30, 60)).toEqual([3, 4, 5, 6])
    expect(between(ring, 30, 60, 2)).toEqual([5, 6])
    expect(firstFrom(ring, 31, 1_000, 3)).toEqual([4, 5, 6])
    expect(pointsBetween(ring, 30, 65, 2)).toEqual({ t: [50, 60], v: [5, 6] })
    expect(between(ring, 500, 600)).toEqual([])
  })
})

describe('the step gate', () => {
  const level = ROLES['tank-level']

  it('never believes a spike, however high, and goes on with what comes after it', () => {
    fc.assert(
      fc.property(fc.double({ min: 0.2, max: 15, noNaN: true }), fc.integer({ min: 1, max: 3 }), (height, length) => {
        const screen = createScreen()
        for (let i = 0; i < 30; i += 1) {
          const spike = i >= 10 && i < 10 + length
          expect(believe(screen, level, 10 * SECOND * i, spike ? 0.6 + height : 0.6)).toBe(!spike)
        }
        expect(screen.refused).toBe(length)
      }),
    )
  })

  it('never believes spikes that do not agree with each other, though they go on for nine minutes', () => {
    const screen = createScreen()
    believe(screen, level, 0, 0.6)
    for (let i = 1; i < 55; i += 1) expect(believe(screen, level, 10 * SECOND * i, i % 2 === 0 ? 4 : 9)).toBe(false)
  })

  it('believes a real step with the fifth reading that agrees', () => {
    const screen = createScreen()
    believe(screen, level, 0, 0.6)
    const seen = [1, 2, 3, 4, 5, 6].map((i) => believe(screen, level, 10 * SECOND * i, 1.4))
    expect(seen).toEqual([false, false, false, false, true, true])
  })

  it('believes it with the third when readings are slow and ten minutes have passed', () => {
    const screen = createScreen()
    believe(screen, level, 0, 0.6)
    const seen = [1, 2, 3, 4].map((i) => believe(screen, level, 6 * MINUTE * i, 5.6))
    expect(seen.indexOf(true)).toBe(2)
  })

  it('lets anything pass where a step is ordinary', () => {
    const screen = createScreen()
    expect([0, 14, 3, 0].map((amps, i) => believe(screen, ROLES['pump-current'], 10 * i, amps))).not.toContain(false)
  })
})

describe('the level at the end of a few readings', () => {
  const t = [0, 10_000, 20_000, 30_000, 40_000, 50_000, 60_000]

  it('is their median while they stand still: one wild reading does not move it', () => {
    expect(levelAtEnd(t, [0.5, 0.5, 0.501, 0.499, 0.58, 0.5, 0.5], 65_000)).toBe(0.5)
  })

  it('is the end of their line where they plainly fall, also a little past the last', () => {
    const falling = t.map((at, i) => 0.6 - at / 1e6 + (i % 2 === 0 ? 1e-5 : -1e-5))
    expect(levelAtEnd(t, falling, 65_000)).toBeCloseTo(0.535, 3)
  })

  it('is the median of fewer than five, whatever their slope', () => {
    expect(levelAtEnd([0, 10_000, 20_000], [0.5, 0.51, 0.52], 20_000)).toBe(0.51)
  })
})

describe('what is usual', () => {
  it('is unknown before anything was seen, and before as many as asked for', () => {
    const state = createUsual()
    expect(usual(state)).toBeNull()
    learn(state, 4)
    expect(usual(state)).toEqual({ value: 4, sd: 0, fills: 1 })
    expect(usual(state, 3)).toBeNull()
  })

  it('is not moved by a few wild fills, and follows when the site changes for good', () => {
    const state = createUsual()
    for (let i = 0; i < 20; i += 1) learn(state, i % 5 === 4 ? 90 : 10 + (i % 3) * 0.1)
    expect(usual(state)?.value).toBeCloseTo(10.1, 6)
    for (let i = 0; i < 24; i += 1) learn(state, 12)
    expect(usual(state)).toEqual({ value: 12, sd: 0, fills: 24 })
  })
})

describe('draws during a fill, found as a staircase', () => {
  type Made = { t: number[]; v: number[]; drawn: number; rate: number }

  /** Minutes of a fill at a steady rate with noise of `sdL`, and draws of 3 to 40 l at chance minutes. */
  function made(seed: number, sdL: number): Made {
    const random = new Random(seed, 'staircase')
    const rate = random.between(3, 9)
    const draws = random.below(6)
    const minutes = 30 + random.below(50)
    const at = Array.from({ length: draws }, () => 1 + random.below(minutes - 2))
    const litres = at.map(() => random.between(3, 40))
    const t: number[] = []
    const v: number[] = []
    let drawn = 0
    for (let k = 0; k < minutes; k += 1) {
      at.forEach((one, i) => {
        if (one === k) drawn += litres[i] ?? 0
      })
      t.push(k * MINUTE)
      v.push(500 + rate * k - drawn + sdL * random.normal())
    }
    return { t, v, drawn, rate }
  }

  const SEEDS = Array.from({ length: 120 }, (_, i) => i + 1)

  it.each([0.1, 0.5])(
    'with noise of %d l the rate is within 2 per cent of the truth, and the draws within two of their doubts',
    (sdL) => {
      let rateRight = 0
      let drawsRight = 0
      for (const seed of SEEDS) {
        const { t, v, drawn, rate } = made(seed, sdL)
        const found = findDraws(t, v, sdL)
        if (found === null) throw new Error(`seed ${seed}: expected draws`)
        if (Math.abs(found.rateLMin.value / rate - 1) <= 0.02) rateRight += 1
        if (Math.abs(found.drawnL.value - drawn) <= 2 * found.drawnL.sd) drawsRight += 1
        expect(found.drawnL.value).toBeGreaterThanOrEqual(0)
      }
      // Two standard uncertainties hold 95 of 100 if the noise is normal.
      expect(rateRight / SEEDS.length).toBeGreaterThanOrEqual(0.95)
      expect(drawsRight / SEEDS.length).toBeGreaterThanOrEqual(0.95)
    },
  )

  it('are never negative, whatever the readings are', () => {
    const litres = fc.integer({ min: 0, max: 20_000 }).map((tenths) => tenths / 10)
    const values = fc.array(litres, { minLength: 0, maxLength: 40 })
    fc.assert(
      fc.property(values, (v) => {
        const found = findDraws(
          v.map((_, k) => k * MINUTE),
          v,
          0.5,
        )
        if (v.length < 8) expect(found).toBeNull()
        if (found === null) return
        expect(found.drawnL.value).toBeGreaterThanOrEqual(0)
        expect(found.rateLMin.value).toBeGreaterThan(0)
        expect(found.rateLMin.sd).toBeGreaterThan(0)
      }),
      { numRuns: 50 },
    )
  })

  it('are none where nothing rises', () => {
    const t = Array.from({ length: 30 }, (_, k) => k * MINUTE)
    expect(
      findDraws(
        t,
        t.map((_, k) => 500 - k),
        0.5,
      ),
    ).toBeNull()
  })
})
