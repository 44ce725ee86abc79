import { describe, expect, it } from 'vitest'
import { waterLeft } from '../../../src/infer/loss/left.js'
import { createLoss, type LossState } from '../../../src/infer/loss/state.js'
import { usualDay, usualInHour } from '../../../src/infer/loss/use.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../../src/model/time.js'
import { Bench, benchSite, sagging, type Scene, type Span, T0 } from '../support.js'

/** A household that draws 100 l from eight to nine and 100 l from six to seven, each day. */
function household(): LossState {
  const loss = createLoss()
  for (const [values, counts] of [[loss.week, loss.weekN] as const, [loss.plain, loss.plainN] as const]) {
    for (let h = 0; h < values.length; h += 1) {
      values[h] = h % 24 === 8 || h % 24 === 18 ? 100 : 0
      counts[h] = 8
    }
  }
  for (let day = 14; day > 0; day -= 1) {
    loss.dayStarts.push(T0 - day * DAY)
    loss.dayUsedL.push(200)
    loss.dayKnownH.push(24)
  }
  loss.dayStart = T0
  loss.dayOfWeek = 1
  return loss
}

const left = (h: number, litres: number, presentLH: number | null = null, leakLH = 0, staysSo = false) =>
  waterLeft(household(), T0 + h * HOUR, litres, presentLH, 0, leakLH, staysSo)

describe('how long the water lasts', () => {
  it('follows the hours: 50 l in the evening last until breakfast, 50 l before breakfast do not', () => {
    // At 200 l a day, spread evenly, 50 l would last 6 h at any time of the day.
    expect(left(20, 50)?.hours).toBeCloseTo(12.5, 1)
    expect(left(8, 50)?.hours).toBeCloseTo(0.5, 1)
  })

  it('counts a leak day and night', () => {
    // From eight in the evening: 12 h of 4 l/h leave 2 of 50 l.
    expect(left(20, 50, null, 4)?.hours).toBeLessThan(12.1)
    expect(left(20, 40, null, 4)?.hours).toBeCloseTo(10, 1)
  })

  it('takes more use now for more use in the next hours, and less of the hours after', () => {
    const usual = left(8, 500)?.hours ?? 0
    const busy = waterLeft(household(), T0 + 8 * HOUR, 500, 60, 30, 0, false)?.hours ?? 0
    expect(busy).toBeLessThan(usual)
    expect(busy).toBeGreaterThan(usual / 2)
  })

  it('lasts as now where nobody is there, and for ever where nothing is lost', () => {
    expect(left(8, 96, 4, 0, true)?.hours).toBeCloseTo(24, 1)
    expect(left(8, 96, 0, 0, true)).toBeNull()
  })

  it('has a doubt that is wider for days that differ', () => {
    const found = left(8, 1_000)
    expect(found?.low).toBeLessThan(found?.hours ?? 0)
    expect(found?.high).toBeGreaterThan(found?.hours ?? 0)
    const wild = household()
    for (let i = 0; i < wild.dayUsedL.length; i += 2) wild.dayUsedL[i] = 90
    const doubted = waterLeft(wild, T0 + 8 * HOUR, 1_000, null, 0, 0, false)
    expect((doubted?.high ?? 0) - (doubted?.low ?? 0)).toBeGreaterThan((found?.high ?? 0) - (found?.low ?? 0))
  })
})

/** 200 l a day in two hours of it; the pump brings them back from noon on, 4 l/min. */
function level(t: Ms): number {
  const h = ((t - T0) % DAY) / HOUR
  const share = (from: number, hours: number) => Math.max(0, Math.min(1, (h - from) / hours))
  const used = 100 * share(8, 1) + 100 * share(18, 1)
  const pumped = 200 * share(12, 200 / 4 / 60)
  // The hundred of the evening before is brought back at noon too.
  return (600 - used + pumped - 100) / 1_000
}

describe('the account of use', () => {
  const DAYS = 9
  const runs: Span[] = Array.from({ length: DAYS }, (_, day) => {
    const start = T0 + day * DAY + 12 * HOUR
    return [start, start + 50 * MINUTE]
  })
  const scene: Scene = {
    'tank-level': (t) => level(t),
    'pump-current': (t) => (runs.some(([from, to]) => t >= from && t < to) ? 3 : 0),
    'battery-voltage': sagging(runs),
  }
  const bench = new Bench(benchSite()).play(scene, T0, T0 + DAYS * DAY, 20_000)

  it('gives litres a day, and in which hours', () => {
    const { loss } = bench.state
    const day = usualDay(loss)
    expect(day?.days).toBeGreaterThanOrEqual(DAYS - 2)
    expect(Math.abs((day?.valueL ?? 0) - 200)).toBeLessThan(6)
    const morning = usualInHour(bench.engine.plan, loss, T0 + DAYS * DAY - 15.5 * HOUR) ?? 0
    const night = usualInHour(bench.engine.plan, loss, T0 + DAYS * DAY - 21 * HOUR) ?? 0
    expect(Math.abs(night)).toBeLessThan(1)
    // An hour is capped at six times the mean hour, so that a hose is not the rule for weeks.
    expect(morning).toBeGreaterThan(40)
  })

  it('gives the days in which a full tank is drawn once', () => {
    // 700 l at the high mark, 200 l a day.
    expect(bench.looked.loss.usualTurnoverDays).toBeCloseTo(3.5, 0)
    expect(bench.looked.loss.turnoverDays).toBeGreaterThan(3)
    expect(bench.looked.loss.turnoverDays).toBeLessThan(4.5)
  })

  it('sees no leak in a household that rests between two draws a day', () => {
    const { steady, big, nightly } = bench.looked.loss
    expect([steady, big, nightly]).toEqual([null, null, null])
  })

  it('survives being stored and read back', () => {
    const again = bench.engine.restore(bench.engine.serialise(bench.state))
    expect(again.loss).toEqual(JSON.parse(JSON.stringify(bench.state.loss)))
    expect(JSON.stringify(bench.state.loss).length).toBeLessThan(12_000)
  })

  it('keeps the household and forgets the levels when a new baseline begins', () => {
    const state = bench.engine.restore(bench.engine.serialise(bench.state))
    bench.engine.rebase(state, T0 + DAYS * DAY)
    expect(state.loss.dayUsedL.length).toBeGreaterThan(5)
    expect(state.loss.bins).toEqual([])
    expect(state.loss.nightLH).toEqual([])
  })
})
