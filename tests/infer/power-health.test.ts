import { describe, expect, it } from 'vitest'
import type { SiteSettings } from '../../src/model/settings.js'
import { HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import { Bench, benchSite, LEVEL_KEYS, running, type Scene, type Span, T0 } from './support.js'

const KEYS = ['battery-current', 'battery-temperature'] as const

function site(set: Partial<SiteSettings> = {}, keys: readonly string[] = KEYS): SiteSettings {
  const more = keys as (typeof KEYS)[number][]
  return {
    ...benchSite(LEVEL_KEYS, more),
    battery: { chemistry: 'lifepo4', nominalVoltageV: 24, capacityAh: 100 },
    ...set,
  }
}

/** A start each four hours; the pump runs for ten minutes. */
const starts = (n: number): Span[] =>
  Array.from({ length: n }, (_, i) => [T0 + i * 4 * HOUR + HOUR, T0 + i * 4 * HOUR + HOUR + 10 * MINUTE] as const)

type Course = { ohm: (t: Ms) => number; celsius?: (t: Ms) => number; chargeA?: (t: Ms) => number; held?: boolean }

function scene(spans: readonly Span[], { ohm, celsius = () => 20, chargeA = () => 0, held = false }: Course): Scene {
  const pump = running(spans)
  const net = (t: Ms): number => (held ? 0 : chargeA(t) - (pump(t) ?? 0))
  return {
    'tank-level': () => 0.6,
    'pump-current': pump,
    'battery-current': net,
    'battery-voltage': (t) => 26.4 + net(t) * ohm(t),
    'battery-temperature': celsius,
  }
}

/** Plays only the minutes around each start, so that days cost little. */
function playStarts(bench: Bench, spans: readonly Span[], course: Course, from = 0, to = spans.length): Bench {
  for (const [on] of spans.slice(from, to)) bench.play(scene(spans, course), on - 2 * MINUTE, on + 2 * MINUTE)
  return bench
}

const at20 = 0.04
const cold = (c: number): number => at20 * 2 ** ((20 - c) / 30)

describe('the drop per ampere at starts', () => {
  it('is the resistance that the starts show, once there are starts to compare', () => {
    const spans = starts(12)
    const bench = playStarts(new Bench(site()), spans, { ohm: () => at20 }, 0, 7)
    expect(bench.looked.power.sag).toBeNull()
    playStarts(bench, spans, { ohm: () => at20 }, 7)
    const { sag } = bench.looked.power
    expect(sag?.ohm).toBeCloseTo(at20, 3)
    expect(sag?.usual).toMatchObject({ value: expect.closeTo(at20, 3), starts: 9 })
    expect(sag?.doubt).toBe(1)
  })

  it('shows a growth within three starts, and does not take it for usual', () => {
    const spans = starts(24)
    const bench = playStarts(new Bench(site()), spans, { ohm: () => at20 }, 0, 12)
    playStarts(bench, spans, { ohm: () => 2 * at20 }, 12, 15)
    expect(bench.looked.power.sag?.ohm).toBeCloseTo(2 * at20, 3)
    playStarts(bench, spans, { ohm: () => 2 * at20 }, 15)
    expect(bench.looked.power.sag?.ohm).toBeCloseTo(2 * at20, 3)
    expect(bench.looked.power.sag?.usual.value).toBeCloseTo(at20, 3)
  })

  it('is compared at like temperature: a cold snap is no growth, and beyond known cold the doubt is said', () => {
    const spans = starts(15)
    const bench = playStarts(new Bench(site()), spans, { ohm: () => cold(18), celsius: () => 18 }, 0, 12)
    playStarts(bench, spans, { ohm: () => cold(-12), celsius: () => -12 }, 12)
    const { sag } = bench.looked.power
    expect((sag?.ohm ?? 0) / (sag?.usual.value ?? 1)).toBeCloseTo(1, 1)
    expect(sag?.doubt).toBeGreaterThan(1.3)
    expect(sag).toMatchObject({ temperatureFrom: 'battery', temperatureC: -12 })
  })

  it('is not disturbed by a charge that changes in mid-start, where the current of the battery is measured', () => {
    const spans = starts(12)
    const rises = (t: Ms): number => (spans.some(([on]) => t >= on && t < on + HOUR) ? 1 : 0)
    const bench = playStarts(new Bench(site()), spans, { ohm: () => at20, chargeA: rises })
    expect(bench.looked.power.sag?.ohm).toBeCloseTo(at20, 3)
  })

  it('is not measured while a charger holds the voltage', () => {
    const spans = starts(12)
    const bench = playStarts(new Bench(site()), spans, { ohm: () => at20, held: true })
    expect(bench.looked.power.sag).toBeNull()
    expect(bench.state.power.sag.lastT).toEqual([])
  })

  it('allows for the season where no temperature is measured, and begins anew with a journal entry', () => {
    const spans = starts(12)
    const bench = playStarts(new Bench(site({}, ['battery-current'])), spans, { ohm: () => at20 })
    expect(bench.looked.power.sag).toMatchObject({ temperatureFrom: null, doubt: expect.closeTo(2 ** (12 / 30), 2) })
    bench.engine.rebase(bench.state, bench.state.at)
    bench.advance(bench.state.at + MINUTE)
    expect(bench.looked.power.sag).toBeNull()
  })
})

describe('charge in the cold', () => {
  const charging = (celsius: number, amps: number): Bench =>
    new Bench(site()).play(
      scene([], { ohm: () => at20, celsius: () => celsius, chargeA: () => amps }),
      T0,
      T0 + 10 * MINUTE,
    )

  it('is seen below freezing with more than a fiftieth of the capacity', () => {
    expect(charging(-3, 5).looked.power.coldChargeSince).not.toBeNull()
    expect(charging(-3, 1.5).looked.power.coldChargeSince).toBeNull()
    expect(charging(-3, -5).looked.power.coldChargeSince).toBeNull()
    expect(charging(4, 5).looked.power.coldChargeSince).toBeNull()
  })

  it('is not claimed within what a thermometer is good for, nor of a battery that is not lithium', () => {
    expect(charging(-0.3, 5).looked.power.coldChargeSince).toBeNull()
    const lead = new Bench(site({ battery: { chemistry: 'agm', nominalVoltageV: 24, capacityAh: 100 } }))
    lead.play(scene([], { ohm: () => at20, celsius: () => -8, chargeA: () => 5 }), T0, T0 + 10 * MINUTE)
    expect(lead.looked.power.coldChargeSince).toBeNull()
  })
})
