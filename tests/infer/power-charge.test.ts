import { describe, expect, it } from 'vitest'
import { clearOnPlane, courseOfDay } from '../../src/infer/energy/clear.js'
import type { Chemistry, SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import { Bench, benchSite, LEVEL_KEYS, type Scene, T0 } from './support.js'

type Key = 'battery-current' | 'battery-temperature' | 'panel-current' | 'panel-voltage' | 'air-temperature'

function site(chemistry: Chemistry, keys: readonly Key[], set: Partial<SiteSettings> = {}): SiteSettings {
  return {
    ...benchSite(LEVEL_KEYS, keys),
    battery: { chemistry, nominalVoltageV: 24, capacityAh: 100 },
    latitudeDeg: 40,
    longitudeDeg: 0,
    ...set,
  }
}

const still: Scene = { 'tank-level': () => 0.6, 'pump-current': () => 0 }
const steady = (volts: number, amps: number | null = null): Scene => ({
  ...still,
  'battery-voltage': () => volts,
  ...(amps === null ? {} : { 'battery-current': () => amps }),
})

describe('state of charge', () => {
  it('is counted from full, with a doubt that grows, and gives the hours to the cut-off', () => {
    const bench = new Bench(site('lifepo4', ['battery-current']))
    bench.play(steady(28.2, 2), T0, T0 + 15 * MINUTE)
    expect(bench.looked.power).toMatchObject({ full: true })
    expect(bench.looked.power.charge?.share).toBeCloseTo(1, 2)
    bench.play(steady(26.2, -5), T0 + 15 * MINUTE, T0 + 6.25 * HOUR)
    const { charge, cutOff, loadA } = bench.looked.power
    // 5 A for 6 h of 100 Ah.
    expect(charge?.share).toBeCloseTo(0.7, 2)
    expect(charge?.sd).toBeGreaterThan(0.02)
    expect(charge?.low).toBeLessThan(0.7)
    expect(loadA).toBeCloseTo(5, 1)
    expect(cutOff?.hours).toBeCloseTo(13, 0)
    expect(cutOff?.lowH).toBeLessThan(12)
    expect(cutOff?.highH).toBeGreaterThan(14)
    bench.play(steady(26.8, 5), T0 + 6.25 * HOUR, T0 + 8.25 * HOUR)
    expect(bench.looked.power.charge?.share).toBeCloseTo(0.8, 2)
  })

  it('is a wide band, never a figure, for lithium by voltage alone', () => {
    const bench = new Bench(site('lifepo4', [])).play(steady(26.4), T0, T0 + 10 * MINUTE)
    expect(bench.looked.power.charge).toMatchObject({ share: null, sd: null, low: 0.2, high: 0.95, by: 'voltage' })
    expect(bench.looked.power.cutOff).toBeNull()
  })

  it.each([
    // Resting voltages of a 12 V lead-acid battery and its charge [common practice; domain figures of the trade].
    [12.7, 1],
    [12.4, 0.75],
    [12.2, 0.5],
    [12.0, 0.25],
    [11.8, 0],
  ])('is a band around the usual figure for lead-acid at %s V', (volts, share) => {
    const bench = new Bench(site('agm', [])).play(steady(2 * volts), T0, T0 + 10 * MINUTE)
    const charge = bench.looked.power.charge
    expect(charge?.share).toBeNull()
    expect(charge?.low).toBeLessThanOrEqual(share)
    expect(charge?.high).toBeGreaterThanOrEqual(share)
    expect((charge?.high ?? 1) - (charge?.low ?? 0)).toBeLessThanOrEqual(0.5)
  })
})

describe('a battery that is not full', () => {
  /** By day at so many volts, by night at rest. */
  const days = (byDay: (t: Ms) => number | null): Scene => ({
    ...still,
    'battery-voltage': (t) => (t % DAY > 8 * HOUR && t % DAY < 17 * HOUR ? byDay(t) : 25),
  })
  const lead = () => new Bench(site('agm', []))

  it('is counted in days that were watched', () => {
    const bench = lead().play(
      days(() => 26),
      T0,
      T0 + 4 * DAY,
      MINUTE,
    )
    expect(bench.looked.power.daysNotFull).toBe(4)
    // The evening of the fifth day counts it.
    bench.play(
      days(() => 26),
      T0 + 4 * DAY,
      T0 + 4 * DAY + 22 * HOUR,
      MINUTE,
    )
    expect(bench.looked.power.daysNotFull).toBe(5)
  })

  it('begins anew after hours of absorption, or after the fall to float, but not after a short glance at it', () => {
    const glance = days((t) => (t % DAY < 8.5 * HOUR ? 28.4 : 25.5))
    const absorbed = days((t) => (t % DAY < 11 * HOUR ? 28.4 : 25.5))
    const floats = days((t) => (t % DAY < 8.5 * HOUR ? 28.4 : 27.2))
    const bench = lead().play(glance, T0, T0 + 2 * DAY, 2 * MINUTE)
    expect(bench.looked.power).toMatchObject({ daysNotFull: 2, lastFullAt: null })
    bench.play(absorbed, T0 + 2 * DAY, T0 + 3 * DAY, 2 * MINUTE)
    expect(bench.looked.power.daysNotFull).toBe(0)
    bench.play(glance, T0 + 3 * DAY, T0 + 4 * DAY, 2 * MINUTE).play(floats, T0 + 4 * DAY, T0 + 5 * DAY, 2 * MINUTE)
    expect(bench.looked.power.daysNotFull).toBe(0)
  })

  it('is not counted for a day whose daylight was not seen', () => {
    const bench = lead().play(
      days(() => 26),
      T0,
      T0 + 2 * DAY,
      MINUTE,
    )
    bench.play(
      days(() => null),
      T0 + 2 * DAY,
      T0 + 3 * DAY,
      MINUTE,
    )
    expect(bench.looked.power.daysNotFull).toBe(2)
  })
})

describe('harvest against a clear sky', () => {
  const KEYS = ['battery-current', 'battery-temperature', 'panel-voltage', 'panel-current', 'air-temperature'] as const
  const array = { ratedW: 440, tiltDeg: 40, azimuthDeg: 180 }
  const place = { latitudeDeg: 40, longitudeDeg: 0, elevationM: 0 }
  const clear = (t: Ms): number => clearOnPlane(courseOfDay(place, t), array, t)

  type Course = { share: (t: Ms) => number; panelV?: number; volts?: number; celsius?: number; taken?: number }
  const LOAD_A = 0.6

  /** `share` of a clear sky falls on the panels; `taken` of it is taken from them. */
  function scene({ share, panelV = 36, volts = 26.3, celsius = 12, taken = 1 }: Course): Scene {
    const watts = (t: Ms): number => taken * share(t) * clear(t) * array.ratedW
    const byDay = (t: Ms): number => (clear(t) > 0 ? panelV : 0)
    return {
      ...still,
      'battery-voltage': () => volts,
      'battery-current': (t) => watts(t) / volts - LOAD_A,
      'battery-temperature': () => celsius,
      'panel-voltage': byDay,
      'panel-current': (t) => (byDay(t) > 0 ? watts(t) / byDay(t) : 0),
      'air-temperature': () => celsius,
    }
  }
  const cloudy = (t: Ms): number => 0.5 + 0.35 * Math.sin(t / HOUR)

  let kept: string | null = null
  /** A bench after three cloudy days; they are lived once. */
  function learned(): Bench {
    const bench = new Bench(site('lifepo4', KEYS, { array }))
    if (kept === null)
      kept = bench.engine.serialise(bench.play(scene({ share: cloudy }), T0, T0 + 3 * DAY, 45_000).state)
    else bench.state = bench.engine.restore(kept)
    return bench.play(scene({ share: cloudy }), T0 + 3 * DAY, T0 + 3 * DAY + MINUTE, 45_000)
  }
  const noon = T0 + 3 * DAY + 15 * HOUR

  it('learns what days bring', () => {
    const { array: facts } = learned().looked.power
    expect(facts?.days).toBe(2)
    expect(facts?.usualRatio).toBeGreaterThan(0.4)
    expect(facts?.usualRatio).toBeLessThan(0.6)
  })

  it('is next to nothing under snow, and the voltage tells snow from a fuse', () => {
    const snow = learned().play(scene({ share: () => 0.01 }), T0 + 3 * DAY, noon, 45_000).looked.power.array
    expect(snow?.ratio).toBeLessThan(0.02)
    expect(snow?.clearH).toBeGreaterThan(2)
    expect(snow?.late).toBe(true)
    expect(snow?.voltsShare).toBeCloseTo(1, 1)
    const fuse = learned().play(scene({ share: () => 0, panelV: 0.4 }), T0 + 3 * DAY, noon, 45_000).looked.power.array
    expect(fuse?.voltsShare).toBeLessThan(0.05)
    expect(fuse?.batteryA).toBeCloseTo(-LOAD_A, 2)
  })

  it('does not count hours in which a cold lithium battery refuses the charge, and says so', () => {
    const cold = scene({ share: () => 0.8, taken: 0.03, panelV: 43, celsius: -6 })
    const { power } = learned().play(cold, T0 + 3 * DAY, noon, 45_000).looked
    expect(power.array?.clearH).toBe(0)
    expect(power.array?.since).toBeNull()
    expect(power.coldLockOutSince).not.toBeNull()
  })

  it('does not count hours in which the battery is full or held', () => {
    const held = scene({ share: () => 0.8, taken: 0.03, panelV: 43, volts: 27.2 })
    expect(learned().play(held, T0 + 3 * DAY, noon, 45_000).looked.power.array?.clearH).toBe(0)
  })

  it('does not call an array dark whose battery is charged: then the sensor of the panel is at fault', () => {
    const charged: Scene = { ...scene({ share: () => 0 }), 'battery-current': () => 6 }
    expect(learned().play(charged, T0 + 3 * DAY, noon, 45_000).looked.power.array?.since).toBeNull()
  })

  it('says nothing of directions from which no sun was ever seen, nor without a signal of the panel', () => {
    const dark = new Bench(site('lifepo4', KEYS, { array })).play(scene({ share: () => 0 }), T0, T0 + DAY, 45_000)
    expect(dark.looked.power.array?.hours).toBe(0)
    const blind = new Bench(site('agm', [], { array })).play(steady(25), T0, T0 + HOUR)
    expect(blind.looked.power.array).toBeNull()
  })
})
