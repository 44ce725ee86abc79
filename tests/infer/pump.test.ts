import { describe, expect, it } from 'vitest'
import { HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import {
  Bench,
  benchSite,
  FLOW_L_MIN,
  filling,
  ordinary,
  running,
  type Scene,
  sagging,
  silent,
  type Span,
  T0,
} from './support.js'

const START = T0 + 6 * HOUR
/** From 0.5 to 0.7 m at 4 l/min: 200 l in 50 min. */
const FILL: Span = [START, START + 50 * MINUTE]
const BEGIN = START - 30 * MINUTE
const DONE = START + 80 * MINUTE

function played(scene: Scene, to: Ms = DONE): Bench {
  return new Bench(benchSite()).play(scene, BEGIN, to)
}

describe('an ordinary fill', () => {
  const fill = played(ordinary([FILL])).only

  it('begins and ends between the readings that show it, to within the interval', () => {
    expect(Math.abs(fill.start - FILL[0])).toBeLessThanOrEqual(5 * SECOND)
    expect(Math.abs(fill.end - FILL[1])).toBeLessThanOrEqual(5 * SECOND)
    expect(fill.durationS).toBeCloseTo(3_000, 0)
    // A rectangle of 10 s at each end: 10/√12 each (GUM 4.3.7).
    expect(fill.durationSdS).toBeCloseTo((10 / Math.sqrt(12)) * Math.SQRT2, 6)
  })

  it('has its volume, energy, flow and energy per volume within their own doubt', () => {
    const wh = (3 * 25.6 * 3_000) / 3_600
    for (const [figure, truth] of [
      [fill.volumeL, 200],
      [fill.energyWh, wh],
      [fill.flowLMin, FLOW_L_MIN],
      [fill.whPerL, wh / 200],
    ] as const) {
      if (figure === null) throw new Error('expected a figure')
      expect(Math.abs(figure.value - truth)).toBeLessThanOrEqual(2 * figure.sd)
      expect(figure.sd / figure.value).toBeLessThan(0.06)
    }
    expect(fill.currentMeanA).toBeCloseTo(3, 1)
    expect(fill.voltageMeanV).toBeCloseTo(25.6, 2)
    expect(fill.voltageMinV).toBeCloseTo(25.6, 9)
    expect(fill).toMatchObject({ endReason: 'full', complete: true })
  })
})

describe('readings that fail to show a running pump', () => {
  it.each([1, 2])('%d of them are bridged', (count) => {
    const hole: Span = [START + 20 * MINUTE, START + 20 * MINUTE + count * 10 * SECOND]
    const scene = ordinary([FILL])
    const amps = scene['pump-current']
    const bench = played({ ...scene, 'pump-current': (t) => (t >= hole[0] && t < hole[1] ? 0.02 : (amps?.(t) ?? 0)) })
    expect(bench.only.durationS).toBeCloseTo(3_000, 0)
    expect(bench.only.complete).toBe(true)
  })

  it('a stop of a minute is a stop: two runs, neither of them bridged to the other', () => {
    const parts: Span[] = [
      [START, START + 20 * MINUTE],
      [START + 21 * MINUTE, START + 51 * MINUTE],
    ]
    const bench = played(ordinary(parts))
    expect(bench.cycles.map((cycle) => Math.round(cycle.durationS / 60))).toEqual([20, 30])
    expect(bench.cycles.map((cycle) => cycle.endReason)).toEqual(['manual', 'full'])
  })

  it('a board that starts anew and is silent for 40 s does not split a run', () => {
    const away: Span = [START + 20 * MINUTE, START + 20 * MINUTE + 40 * SECOND]
    const scene = ordinary([FILL])
    const bench = played({
      ...scene,
      'pump-current': silent(scene['pump-current'] ?? (() => 0), away),
      'battery-voltage': silent(scene['battery-voltage'] ?? (() => 0), away),
    })
    expect(bench.only.durationS).toBeCloseTo(3_000, 0)
    expect(bench.only.energyWh).not.toBeNull()
    expect(bench.only.complete).toBe(true)
  })
})

describe('a run that the link loses', () => {
  const away: Span = [START + 20 * MINUTE, START + 140 * MINUTE]
  const scene = ordinary([[START, START + 50 * MINUTE]])
  const lost = Object.fromEntries(Object.entries(scene).map(([key, signal]) => [key, silent(signal, away)]))

  it('is closed where it was last seen: end unknown, figures unknown, unfit for trends', () => {
    const bench = played(lost, START + 3 * HOUR)
    expect(bench.only).toMatchObject({
      endReason: 'unknown',
      complete: false,
      volumeL: null,
      energyWh: null,
      whPerL: null,
    })
    expect(bench.only.end).toBe(START + 20 * MINUTE - 10 * SECOND)
    expect(bench.state.completeFills).toBe(0)
  })

  it('and that goes on after two hours is a second one, whose start is unknown', () => {
    const long = ordinary([[START, START + 160 * MINUTE]], 0.1)
    const bench = played(
      Object.fromEntries(Object.entries(long).map(([key, signal]) => [key, silent(signal, away)])),
      START + 4 * HOUR,
    )
    expect(bench.cycles.length).toBe(2)
    expect(bench.cycles.every((cycle) => !cycle.complete && cycle.volumeL === null)).toBe(true)
    expect(bench.cycles[1]?.start).toBe(away[1])
  })
})

describe('inrush', () => {
  it('of one reading changes neither the energy nor the current of a fill', () => {
    const quiet = played(ordinary([FILL])).only
    const scene = ordinary([FILL])
    const amps = running([FILL], (t) => (t < START + 10 * SECOND ? 14 : 3))
    const inrush = played({ ...scene, 'pump-current': amps }).only
    expect(inrush.energyWh?.value).toBeCloseTo(quiet.energyWh?.value ?? 0, 6)
    expect(inrush.currentMeanA).toBeCloseTo(quiet.currentMeanA ?? 0, 6)
    expect(inrush.endReason).toBe('full')
  })
})

describe('a current sensor whose zero drifts', () => {
  const drift = (t: Ms): number => 0.35 * Math.min(1, Math.max(0, (t - BEGIN) / (3 * HOUR)))
  const ripple = (t: Ms): number => 0.03 * Math.sin(t / 7_000)

  it('by 0.35 A over 3 h starts no run, and a fill after it is measured from the new zero', () => {
    const fill: Span = [BEGIN + 4 * HOUR, BEGIN + 4 * HOUR + 50 * MINUTE]
    const scene = ordinary([fill])
    const amps = running([fill])
    const bench = new Bench(benchSite())
    const drifting: Scene = { ...scene, 'pump-current': (t) => (amps(t) ?? 0) + drift(t) + ripple(t) }
    bench.play(drifting, BEGIN, BEGIN + 3.9 * HOUR)
    expect(bench.cycles).toEqual([])
    expect(bench.looked.pump).toMatchObject({ known: true, running: false })
    bench.play(drifting, BEGIN + 3.9 * HOUR, fill[1] + 20 * MINUTE)
    expect(bench.only.currentMeanA).toBeGreaterThan(2.9)
    expect(bench.only.currentMeanA).toBeLessThan(3.1)
  })
})

describe('why a run ended', () => {
  const stop = START + 30 * MINUTE
  const part: Span[] = [[START, stop]]

  it('full: the water stands at the high mark', () => {
    expect(played(ordinary([FILL])).only.endReason).toBe('full')
  })

  it('manual: all was well and the water stood between the marks', () => {
    const { endReason, complete } = played(ordinary(part)).only
    expect({ endReason, complete }).toEqual({ endReason: 'manual', complete: true })
  })

  it('dry: the current had been light for more than half a minute', () => {
    const dryFrom = START + 25 * MINUTE
    const amps = running(part, (t) => (t < dryFrom ? 3 : 1.7))
    const bench = played({ ...ordinary(part), 'tank-level': filling([[START, dryFrom]], 0.5), 'pump-current': amps })
    expect(bench.only).toMatchObject({ endReason: 'dry', complete: false })
    expect(bench.looked.pump.restingUntil).toBe(bench.only.end + 1_800 * SECOND)
  })

  it('power-lost: under load the voltage had sunk to its limit', () => {
    const volts = (t: Ms): number => (t < START ? 25 : t < stop ? 24.9 - ((t - START) / (stop - START)) * 1.6 : 25)
    expect(played({ ...ordinary(part), 'battery-voltage': volts }).only).toMatchObject({
      endReason: 'power-lost',
      complete: false,
    })
  })

  it('stalled: the current stood at more than twice its usual', () => {
    const stalled: Span[] = [[START, START + 40 * SECOND]]
    const scene = { ...ordinary([]), 'pump-current': running(stalled, () => 8), 'battery-voltage': sagging(stalled) }
    expect(played(scene).only).toMatchObject({ endReason: 'stalled', complete: false })
  })

  it('unknown: neither a level nor a high probe tells', () => {
    const site = benchSite(['tank-probe-low'])
    const bench = new Bench(site).play(
      {
        'tank-probe-low': (t) => (t < START + 5 * MINUTE ? 0 : 1),
        'pump-current': running([FILL]),
        'battery-voltage': sagging([FILL]),
      },
      BEGIN,
      DONE,
    )
    expect(bench.only.endReason).toBe('unknown')
  })
})
