/** A pump that loses a tenth of its yield at the first example site, five seeds; and ordinary weeks before it. */
import { describe, expect, it } from 'vitest'
import { simulate } from '../../simulators/simulate.js'
import { createDecoder } from '../../src/decode/decoder.js'
import { createEngine, type EngineEffects } from '../../src/infer/engine.js'
import { Order } from '../../src/infer/order.js'
import type { TrendFacts } from '../../src/model/facts-trend.js'
import { DAY, type Ms, SECOND } from '../../src/model/time.js'
import { settingsOf } from './detection/run-case.js'

const START: Ms = Date.UTC(2026, 4, 4, 7)
const FAULT_AT: Ms = START + 10.25 * DAY
const DAYS = 17

type Seen = { readonly start: Ms; readonly complete: boolean; readonly trend: TrendFacts }

/** The trend after each fill: simulated boards through decoder and engine. */
function fillsOf(seed: number): readonly Seen[] {
  const settings = settingsOf('juniper')
  const decoder = createDecoder([settings])
  const engine = createEngine(settings)
  const state = engine.initial()
  const seen: Seen[] = []
  const nothing = (): void => {}
  const effects: EngineEffects = {
    fill: ({ start, complete }) => seen.push({ start, complete, trend: state.trend.facts }),
    day: nothing,
    energy: nothing,
    look: nothing,
    hour: nothing,
    tooFast: nothing,
  }
  const index = new Map(engine.signals.map((key, at) => [key, at]))
  const order = new Order()
  const feed = (signal: number, t: Ms, value: number): void => engine.feed(state, signal, t, value, effects)
  const faults = [{ kind: 'yield-falling', severity: 'mild', startMs: FAULT_AT, endMs: null }] as const
  for (const { at, topic, payload } of simulate({ site: 'juniper', seed, startMs: START, days: DAYS, faults })
    .messages) {
    const arrival = { at, topic, payload: Buffer.from(payload), retain: false }
    for (const { samples } of decoder.decode(arrival)) {
      for (const { key, t, value } of samples) order.add(index.get(key) ?? 0, t, value)
    }
    order.release(at - 10 * SECOND, feed)
    engine.advance(state, at - 10 * SECOND, effects)
  }
  return seen
}

describe('10 % less yield at once', () => {
  it.each([1, 2, 3, 4, 5])('seed %i: told within 5 complete fills, and nothing before', { timeout: 60_000 }, (seed) => {
    const fills = fillsOf(seed)
    const before = fills.filter((fill) => fill.start < FAULT_AT)
    expect(before.length).toBeGreaterThanOrEqual(8)
    for (const { trend } of before) expect(['learning', 'steady']).toContain(trend.yield.direction)
    // A fill that was under way when it began is partly healthy; it is counted as one of the five.
    const after = fills.filter((fill) => fill.start >= FAULT_AT && fill.complete)
    const told = after.findIndex(({ trend }) => trend.yield.direction === 'fallen')
    expect(told).toBeGreaterThanOrEqual(0)
    expect(told + 1).toBeLessThanOrEqual(5)
    const { yield: water, energy, checkValve } = after.at(-1)?.trend ?? fills[0]?.trend ?? expect.fail('no fill')
    expect(water.share).toBeGreaterThan(-0.13)
    expect(water.share).toBeLessThan(-0.07)
    expect(energy.direction).toBe('risen')
    expect(checkValve.verdict).toBe('as-usual')
    expect(Math.abs((water.since ?? 0) - FAULT_AT)).toBeLessThan(3 * DAY)
  })
})
