/**
 * What restarts and going back rest on: an engine that was written down in the middle and taken up again ends as one that
 * ran through. Any readings do, also ones that no sensor would send.
 */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createEngine, type Engine, type EngineEffects } from '../../src/infer/engine.js'
import type { EngineState } from '../../src/infer/state.js'
import type { Reading } from '../../src/model/sample.js'
import { DAY, HOUR, MINUTE, SECOND } from '../../src/model/time.js'
import { captureOf, freshStore, lineOf, siteOf } from '../daemon/support.js'
import { benchSite, PROBE_KEYS, T0 } from '../infer/support.js'

type Said = { readonly what: string; readonly said: string }

function listener(said: Said[]): EngineEffects {
  const note = (what: string) => (value: unknown) => {
    said.push({ what, said: JSON.stringify(value) })
  }
  return {
    fill: note('fill'),
    day: () => {},
    energy: note('energy'),
    look: note('look'),
    hour: note('hour'),
    tooFast: (signal, t, value) => note('too-fast')([signal, t, value]),
  }
}

function feed(engine: Engine, state: EngineState, readings: readonly Reading[], effects: EngineEffects): void {
  for (const { signal, t, value } of readings) engine.feed(state, signal, t, value, effects)
}

/** All of it, or two parts with the state written down between; what was said, and the state at the end as text. */
function run(engine: Engine, parts: readonly (readonly Reading[])[], end: number): { said: Said[]; text: string } {
  const said: Said[] = []
  const effects = listener(said)
  let state = engine.initial()
  parts.forEach((part, i) => {
    if (i > 0) state = engine.restore(engine.serialise(state))
    feed(engine, state, part, effects)
  })
  engine.advance(state, end, effects)
  const days: Said[] = []
  engine.flush(state, { ...effects, day: (day) => days.push({ what: 'day', said: JSON.stringify(day) }) })
  // A state that was taken up hands its days over once more; by then they are the same.
  return { said: [...said, ...days.slice(-1)], text: engine.serialise(state) }
}

function split(readings: readonly Reading[], at: number): [Reading[], Reading[]] {
  return [readings.slice(0, at), readings.slice(at)]
}

describe('an engine written down and taken up again', () => {
  const sites = [
    benchSite(['tank-level'], ['pump-volume', 'pump-flow', 'air-temperature', 'line-temperature', 'panel-current']),
    benchSite(PROBE_KEYS, ['occupied', 'battery-temperature']),
  ]

  const value = fc.oneof(
    fc.constantFrom(0, 1, 3, 0.5, 0.7, 25.6, 26.4, -0, Number.NaN),
    fc.double({ min: -5, max: 40, noNaN: true }),
  )
  const step = fc.oneof(
    { arbitrary: fc.integer({ min: 0, max: 20 * SECOND }), weight: 20 },
    { arbitrary: fc.integer({ min: 20 * SECOND, max: 2 * HOUR }), weight: 2 },
    { arbitrary: fc.integer({ min: HOUR, max: 3 * DAY }), weight: 1 },
  )
  const readings = fc
    .array(fc.record({ step, signal: fc.nat(6), value }), { minLength: 1, maxLength: 250 })
    .map((rows): Reading[] => {
      let t = T0
      let last = -1
      return rows.map((row) => {
        t += row.signal <= last && row.step === 0 ? 1 : row.step
        last = row.signal
        return { signal: row.signal, t, value: row.value }
      })
    })

  it.each([0, 1])('says the same and ends the same, whatever it is fed (site %i)', (i) => {
    const engine = createEngine(sites[i] ?? benchSite())
    fc.assert(
      fc.property(readings, fc.nat(250), fc.nat(250), (all, a, b) => {
        const known = all.filter(({ signal }) => signal < engine.signals.length)
        const end = (known.at(-1)?.t ?? T0) + 10 * MINUTE
        const whole = run(engine, [known], end)
        const [first, rest] = split(known, Math.min(a, known.length))
        expect(run(engine, [first, rest], end)).toEqual(whole)
        const [second, third] = split(rest, Math.min(b, rest.length))
        expect(run(engine, [first, second, third], end)).toEqual(whole)
      }),
      { numRuns: 25 },
    )
  })

  it.each(['juniper', 'fern'] as const)('says the same and ends the same through two days at %s', (id) => {
    const site = siteOf(id)
    const store = freshStore()
    const { line } = lineOf(site, { store })
    line.keep(captureOf({ site: id, days: 2, guests: [{ fromDay: 0, toDay: 2, people: 4 }] }, 6), () => {})
    const engine = createEngine(site)
    const all: Reading[] = []
    const series = line.sites[0]?.series ?? []
    store.read(series, 0, Number.MAX_SAFE_INTEGER, (signal, t, value) => all.push({ signal, t, value }))
    const end = (all.at(-1)?.t ?? 0) + 10 * MINUTE
    const whole = run(engine, [all], end)
    expect(whole.said.filter(({ what }) => what === 'fill').length).toBeGreaterThanOrEqual(3)
    fc.assert(
      fc.property(fc.nat(all.length), (at) => {
        const found = run(engine, split(all, at), end)
        expect(found.text).toBe(whole.text)
        expect(found.said).toEqual(whole.said)
      }),
      { numRuns: 3 },
    )
  })

  it('is refused by a site with other signals, another version, or as text of something else', () => {
    const engine = createEngine(benchSite())
    const text = engine.serialise(engine.initial())
    expect(() => createEngine(benchSite(PROBE_KEYS)).restore(text)).toThrow(/another configuration/)
    const moved = createEngine({ ...benchSite(), timezone: 'Asia/Kathmandu' })
    expect(() => moved.restore(text)).toThrow(/another configuration/)
    expect(() => engine.restore(text.replace('"version":1', '"version":99'))).toThrow(/version 99/)
    expect(() => engine.restore('[]')).toThrow()
    expect(() => engine.restore('{')).toThrow()
  })
})
