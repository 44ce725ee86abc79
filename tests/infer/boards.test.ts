/** Boards' own troubles as the engine sees them: resets, restarts, units and scales. */
import { describe, expect, it } from 'vitest'
import { slipOf, slipWords, withoutSlip } from '../../src/infer/boards/units.js'
import { ROLES } from '../../src/model/roles.js'
import { HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import { Bench, benchSite, ordinary, type Scene, type Span, T0 } from './support.js'

const noisy = (t: Ms): number => 0.002 * Math.sin(t / 3_100)
const doubts = (bench: Bench): string[] => bench.looked.suspects.map(({ kind, key }) => `${kind} ${key}`)
const SPANS: readonly Span[] = [1, 4, 7, 10].map((hour) => [T0 + hour * HOUR, T0 + hour * HOUR + 30 * MINUTE])

/** The scene without what the pump's board would have said while it was away. */
function away(scene: Scene, isAway: (t: Ms) => boolean): Scene {
  const [current, voltage] = [scene['pump-current'], scene['battery-voltage']]
  return {
    ...scene,
    'pump-current': (t) => (isAway(t) ? null : (current?.(t) ?? null)),
    'battery-voltage': (t) => (isAway(t) ? null : (voltage?.(t) ?? null)),
  }
}

describe('a board that begins anew at each start of the pump', () => {
  const resets = away(ordinary(SPANS), (t) => SPANS.some(([from]) => t >= from && t < from + 40 * SECOND))

  it('is told at the third start, and no fill is split by it', () => {
    const bench = new Bench(benchSite()).play(resets, T0, T0 + 6 * HOUR)
    expect(doubts(bench)).toEqual([])
    bench.play(resets, T0 + 6 * HOUR, T0 + 8 * HOUR)
    expect(doubts(bench)).toEqual(['resets-at-start pump'])
    bench.play(resets, T0 + 8 * HOUR, T0 + 12 * HOUR)
    expect(bench.cycles).toHaveLength(4)
  })

  it('is over after two clean starts of four', () => {
    const first = away(ordinary(SPANS), (t) => SPANS.slice(0, 3).some(([at]) => t >= at && t < at + 40 * SECOND))
    const later: Span[] = [...SPANS, [T0 + 13 * HOUR, T0 + 13.5 * HOUR]]
    const bench = new Bench(benchSite()).play(first, T0, T0 + 12 * HOUR)
    expect(doubts(bench)).toEqual(['resets-at-start pump'])
    bench.play(ordinary(later), T0 + 12 * HOUR, T0 + 14 * HOUR)
    expect(doubts(bench)).toEqual([])
  })

  it('is not a message lost now and then', () => {
    const lossy = away(ordinary(SPANS), (t) => (t / 10_000) % 7 === 3)
    expect(doubts(new Bench(benchSite()).play(lossy, T0, T0 + 12 * HOUR))).toEqual([])
  })
})

it('a board that is gone and back over and over is told, where it was steady before', () => {
  const scene = ordinary([])
  const bench = new Bench(benchSite()).play(scene, T0, T0 + 5 * HOUR)
  const loops = away(scene, (t) => t % (4 * MINUTE) < 40 * SECOND)
  bench.play(loops, T0 + 5 * HOUR, T0 + 6.5 * HOUR)
  expect(doubts(bench)).toEqual(['restarts pump'])
  bench.play(scene, T0 + 6.5 * HOUR, T0 + 8 * HOUR)
  expect(doubts(bench)).toEqual([])
})

describe('a level that slips into another unit', () => {
  const level = (t: Ms): number => 0.6 + noisy(t)
  const scene = (factor: (t: Ms) => number): Scene => ({ ...ordinary([]), 'tank-level': (t) => level(t) * factor(t) })

  // The international foot and inch are exact: 0.3048 m and 0.0254 m.
  it.each([
    ['metres taken for feet', 0.3048, /feet/],
    ['feet', 1 / 0.3048, /^feet/],
    ['centimetres taken for inches', 2.54, /inches/],
  ])('%s is named, and held out of the figures for days', (_, factor, words) => {
    const bench = new Bench(benchSite())
    const levels: (number | null)[] = []
    bench.onLook = (facts) => levels.push(facts.water.levelM)
    bench.play(
      scene((t) => (t < T0 + HOUR ? 1 : factor)),
      T0,
      T0 + 30 * HOUR,
      30 * SECOND,
    )
    expect(doubts(bench)).toContain('unit tank-level')
    expect(bench.looked.suspects.find(({ kind }) => kind === 'unit')?.likely).toMatch(words)
    expect(levels.every((one) => one === null || Math.abs(one - 0.6) < 0.02)).toBe(true)
  })

  it('is believed again at once when it is said as before, or after a new baseline', () => {
    const slipped = scene((t) => (t < T0 + HOUR || t >= T0 + 20 * HOUR ? 1 : 0.3048))
    const bench = new Bench(benchSite()).play(slipped, T0, T0 + 20 * HOUR + 5 * MINUTE, 30 * SECOND)
    expect(doubts(bench)).toEqual([])
    expect(bench.looked.water.levelM).toBeCloseTo(0.6, 1)
    const kept = new Bench(benchSite()).play(slipped, T0, T0 + 3 * HOUR, 30 * SECOND)
    kept.engine.rebase(kept.state, T0 + 3 * HOUR)
    kept.play(slipped, T0 + 3 * HOUR, T0 + 3 * HOUR + 10 * MINUTE, 30 * SECOND)
    expect(kept.looked.water.levelM).toBeCloseTo(0.6 * 0.3048, 2)
  })

  it('is not a real step by no such factor, which is believed as ever', () => {
    const bench = new Bench(benchSite()).play(
      scene((t) => (t < T0 + HOUR ? 1 : 0.7)),
      T0,
      T0 + 2 * HOUR,
    )
    expect(bench.looked.water.levelM).toBeCloseTo(0.42, 1)
    expect(doubts(bench)).toEqual([])
  })
})

describe('units and scales', () => {
  it.each([
    [10, 50],
    [-10, 14],
    [25, 77],
  ])('%d °C said as %d °F is known as such and can be taken back', (celsius, fahrenheit) => {
    const spec = ROLES['air-temperature']
    const slip = slipOf(spec, celsius, fahrenheit)
    expect(slipWords(spec, slip)).toContain('Fahrenheit')
    expect(withoutSlip(spec, slip, fahrenheit)).toBeCloseTo(celsius, 9)
  })

  it('a battery voltage of half or twice the nominal is another scale, not an empty battery', () => {
    for (const factor of [0.5, 2]) {
      const volts = (t: Ms): number => (t < T0 + HOUR ? 26.4 : 26.4 * factor)
      const bench = new Bench(benchSite())
      const low: (Ms | null)[] = []
      bench.onLook = (facts) => low.push(facts.battery.lowSince)
      bench.play({ ...ordinary([]), 'battery-voltage': volts }, T0, T0 + 2 * HOUR)
      expect(doubts(bench)[0]).toBe('unit battery-voltage')
      expect(low.every((one) => one === null)).toBe(true)
    }
  })

  it('a voltage that stands still to the digit though the pump has come on is stuck', () => {
    const run: Span = [T0 + HOUR, T0 + 2 * HOUR]
    const scene: Scene = {
      ...ordinary([run]),
      'battery-voltage': (t) => (t < T0 + 30 * MINUTE ? 26.4 + noisy(t) : 26.41),
    }
    expect(doubts(new Bench(benchSite()).play(scene, T0, T0 + HOUR + 5 * MINUTE))).toEqual([])
    expect(doubts(new Bench(benchSite()).play(scene, T0, T0 + HOUR + 20 * MINUTE))).toContain('stuck battery-voltage')
  })
})
