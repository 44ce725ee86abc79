import { describe, expect, it } from 'vitest'
import type { SuspectKind } from '../../src/model/facts.js'
import type { LineSettings } from '../../src/model/settings.js'
import { HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import {
  Bench,
  benchSite,
  ordinary,
  PROBE_KEYS,
  running,
  type Scene,
  sagging,
  silent,
  type Span,
  T0,
} from './support.js'

/** Kinds and keys doubted at the last look. */
function doubts(bench: Bench): string[] {
  return bench.looked.suspects.map(({ kind, key }) => `${kind} ${key}`)
}

const RUN: Span = [T0 + HOUR, T0 + HOUR + 50 * MINUTE]
const noisy = (t: Ms): number => 0.002 * Math.sin(t / 3_100)

describe('what is not believed', () => {
  it('nothing in an ordinary fill, at any look', () => {
    const seen = new Set<SuspectKind>()
    const bench = new Bench(benchSite())
    bench.onLook = ({ suspects }) => {
      for (const { kind } of suspects) seen.add(kind)
    }
    const scene = ordinary([RUN])
    const level = scene['tank-level']
    bench.play({ ...scene, 'tank-level': (t) => (level?.(t) ?? 0) + noisy(t) }, T0, T0 + 3 * HOUR)
    expect([...seen]).toEqual([])
  })

  it('probes-contradict: the high probe is wet and the low one dry', () => {
    const scene: Scene = {
      'tank-probe-low': (t) => (t < T0 + HOUR ? 1 : 0),
      'tank-probe-high': () => 1,
      'tank-probe-full': () => 0,
      'pump-current': () => 0,
      'battery-voltage': () => 26.4,
    }
    const bench = new Bench(benchSite(PROBE_KEYS)).play(scene, T0, T0 + 50 * MINUTE)
    expect(doubts(bench)).toEqual([])
    bench.play(scene, T0 + 50 * MINUTE, T0 + 2 * HOUR)
    expect(doubts(bench)).toEqual(['probes-contradict tank-probe-low'])
    expect(bench.looked.suspects[0]?.since).toBe(T0 + HOUR)
  })

  it('stuck: the level has not moved by a digit while the pump should have raised it', () => {
    const scene: Scene = { ...ordinary([RUN]), 'tank-level': (t) => (t < RUN[0] ? 0.5 + noisy(t) : 0.5) }
    const bench = new Bench(benchSite()).play(scene, T0, RUN[0] + 45 * MINUTE)
    expect(doubts(bench)).toContain('stuck tank-level')
  })

  it('failed-values: half of a sensor’s readings or more say that it has failed, and no more when it recovers', () => {
    const bad = (t: Ms): boolean => t >= T0 + HOUR && t < T0 + 2 * HOUR && (t / (10 * SECOND)) % 3 !== 0
    const scene: Scene = { ...ordinary([]), 'tank-level': (t) => (bad(t) ? Number.NaN : 0.6 + noisy(t)) }
    const bench = new Bench(benchSite()).play(scene, T0, T0 + 90 * MINUTE)
    expect(doubts(bench)).toEqual(['failed-values tank-level'])
    bench.play(scene, T0 + 90 * MINUTE, T0 + 3 * HOUR)
    expect(doubts(bench)).toEqual([])
  })

  it('too-fast: steps that no water makes, said one by one and doubted together', () => {
    const scene: Scene = {
      ...ordinary([]),
      'tank-level': (t) => ((t / (10 * SECOND)) % 4 === 3 ? 0.99 : 0.6) + noisy(t),
    }
    const bench = new Bench(benchSite()).play(scene, T0, T0 + 20 * MINUTE)
    expect(doubts(bench)).toEqual(['too-fast tank-level'])
    expect(bench.refused.length).toBe(30)
    expect(bench.refused.every(({ value }) => value > 0.9)).toBe(true)
    expect(bench.looked.water.levelM).toBeCloseTo(0.6, 2)
  })

  it('contact-chatter: a probe that switches all the time while the pump lifts the water past it', () => {
    const long: Span = [T0 + HOUR, T0 + 2 * HOUR]
    const scene: Scene = {
      'tank-probe-low': (t) => (t < long[0] ? 0 : (t / (10 * SECOND)) % 2),
      'tank-probe-high': () => 0,
      'tank-probe-full': () => 0,
      'pump-current': running([long]),
      'battery-voltage': sagging([long]),
    }
    const bench = new Bench(benchSite(PROBE_KEYS)).play(scene, T0, long[0] + 40 * MINUTE)
    expect(doubts(bench)).toContain('contact-chatter tank-probe-low')
  })

  it('missing: a signal has stopped though its board still talks, but not when the board is silent too', () => {
    const away: Span = [T0 + HOUR, T0 + 5 * HOUR]
    const scene = ordinary([])
    const amps = scene['pump-current'] ?? (() => 0)
    const volts = scene['battery-voltage'] ?? (() => 0)
    const one = new Bench(benchSite()).play({ ...scene, 'pump-current': silent(amps, away) }, T0, T0 + 2 * HOUR)
    expect(doubts(one)).toEqual(['missing pump-current'])
    const both = { ...scene, 'pump-current': silent(amps, away), 'battery-voltage': silent(volts, away) }
    expect(doubts(new Bench(benchSite()).play(both, T0, T0 + 2 * HOUR))).toEqual([])
  })

  it('not-possible: three fills that lift water with less energy than physics allows such a pump', () => {
    // 200 l over 40 m take 21.8 Wh at least; 0.5 A for 50 min at 25.6 V are 10.7.
    const spans = [0, 1, 2].map((i): Span => [T0 + (1 + 6 * i) * HOUR, T0 + (1 + 6 * i) * HOUR + 50 * MINUTE])
    const level = (t: Ms): number => {
      const since = (t - T0) % (6 * HOUR)
      const risen = (0.2 * Math.max(0, Math.min(since - HOUR, 50 * MINUTE))) / (50 * MINUTE)
      const drawn = since > 2 * HOUR ? (0.2 * (since - 2 * HOUR)) / (4 * HOUR) : 0
      return 0.5 + risen - drawn + 0.3 * noisy(t)
    }
    const site = benchSite()
    const bench = new Bench({ ...site, pump: { ...site.pump, runningCurrentA: 0.5 } })
    const scene = { ...ordinary(spans), 'tank-level': level, 'pump-current': running(spans, () => 0.5) }
    bench.play(scene, T0, T0 + 12 * HOUR)
    expect(doubts(bench)).toEqual([])
    bench.play(scene, T0 + 12 * HOUR, T0 + 15 * HOUR)
    expect(doubts(bench)).toEqual(['not-possible pump-current'])
    expect(bench.looked.suspects[0]?.figure).toBeGreaterThan(1)
  })
})

describe('lines in the cold', () => {
  function line(name: string, kind: LineSettings['kind'], temperatureKey: string | null): LineSettings {
    return { name, kind, insideDiameterM: null, depthM: null, insulationM: null, temperatureKey }
  }

  const site = {
    ...benchSite(['tank-level'], ['air-temperature', 'line-temperature.out']),
    lines: [
      line('outlet', 'boxed', 'line-temperature.out'),
      line('riser', 'exposed', null),
      line('to the house', 'buried', null),
    ],
  }

  /** From 6 °C down by 2 °C an hour for five hours, then up by 4 an hour. */
  const cold = (t: Ms): number => {
    const h = (t - T0) / HOUR
    return h < 5 ? 6 - 2 * h : -4 + 4 * (h - 5)
  }

  it('say the hours until 0 °C while they fall, since when they are frozen, and thaw with a deadband', () => {
    const bench = new Bench(site)
    const scene: Scene = { ...ordinary([]), 'line-temperature.out': cold, 'air-temperature': () => 15 }
    bench.play(scene, T0, T0 + 2 * HOUR, MINUTE)
    expect(bench.looked.lines[0]).toMatchObject({ modelled: false, frozenSince: null })
    expect(bench.looked.lines[0]?.hoursToZero).toBeCloseTo(1, 1)
    bench.play(scene, T0 + 2 * HOUR, T0 + 4 * HOUR, MINUTE)
    expect(bench.looked.lines[0]?.hoursToZero).toBeNull()
    expect(Math.abs((bench.looked.lines[0]?.frozenSince ?? 0) - (T0 + 3 * HOUR))).toBeLessThanOrEqual(MINUTE)
    // At 0.3 °C it is frozen still, at 0.7 °C no more.
    bench.play(scene, T0 + 4 * HOUR, T0 + 6.075 * HOUR, MINUTE)
    expect(bench.looked.lines[0]?.frozenSince).not.toBeNull()
    bench.play(scene, T0 + 6.075 * HOUR, T0 + 6.2 * HOUR, MINUTE)
    expect(bench.looked.lines[0]?.frozenSince).toBeNull()
  })

  it('without a sensor follow the air by their time constant, and a buried one is not followed', () => {
    const bench = new Bench(site)
    const air = (t: Ms): number => (t < T0 + HOUR ? 10 : -10)
    bench.play({ ...ordinary([]), 'air-temperature': air }, T0, T0 + HOUR, MINUTE)
    expect(bench.looked.lines[1]).toMatchObject({ modelled: true, temperatureC: 10 })
    bench.play({ ...ordinary([]), 'air-temperature': air }, T0 + HOUR, T0 + 1.75 * HOUR, MINUTE)
    // [common practice] 0.75 h for a line in the open: it is at 0 °C after ln 2 of that, and stays there while it freezes.
    expect(bench.looked.lines[1]?.temperatureC).toBe(0)
    expect(Math.abs((bench.looked.lines[1]?.frozenSince ?? 0) - (T0 + HOUR + 0.75 * Math.LN2 * HOUR))).toBeLessThan(
      2 * MINUTE,
    )
    expect(bench.looked.lines[2]).toMatchObject({ temperatureC: null, frozenSince: null, hoursToZero: null })
    // Its own sensor has said nothing: unknown, not 0.
    expect(bench.looked.lines[0]).toMatchObject({ temperatureC: null, frozenSince: null })
  })

  it('whose sensor is silent keep what was known to be frozen, and no hours', () => {
    const bench = new Bench(site)
    bench.play({ ...ordinary([]), 'line-temperature.out': cold }, T0, T0 + 3.5 * HOUR, MINUTE)
    bench.play(ordinary([]), T0 + 3.5 * HOUR, T0 + 5 * HOUR, MINUTE)
    expect(bench.looked.lines[0]).toMatchObject({ temperatureC: null, hoursToZero: null })
    expect(bench.looked.lines[0]?.frozenSince).not.toBeNull()
  })
})
