import { describe, expect, it } from 'vitest'
import { HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import {
  Bench,
  benchSite,
  FLOW_L_MIN,
  filling,
  ordinary,
  PROBE_KEYS,
  running,
  type Scene,
  sagging,
  type Signal,
  type Span,
  T0,
} from './support.js'

describe('days', () => {
  const midnight = T0 + 24 * HOUR
  const fill: Span = [midnight - 20 * MINUTE, midnight + 30 * MINUTE]

  it('share a fill over midnight by its time; the day in which it ended counts it', () => {
    const bench = new Bench(benchSite()).play(ordinary([fill]), T0 + 22 * HOUR, midnight + 2 * HOUR).flush()
    const first = bench.days.get('2026-05-04')
    const second = bench.days.get('2026-05-05')
    const { volumeL, energyWh, durationS } = bench.only
    expect([first?.fills, second?.fills]).toEqual([0, 1])
    expect(Math.abs((first?.runS ?? 0) - 1_200)).toBeLessThanOrEqual(5)
    expect((first?.runS ?? 0) + (second?.runS ?? 0)).toBeCloseTo(durationS, 6)
    expect((first?.pumpedL?.value ?? 0) + (second?.pumpedL?.value ?? 0)).toBeCloseTo(volumeL?.value ?? 0, 6)
    expect((first?.pumpWh?.value ?? 0) + (second?.pumpWh?.value ?? 0)).toBeCloseTo(energyWh?.value ?? 0, 6)
    expect((first?.pumpedL?.value ?? 0) / (volumeL?.value ?? 1)).toBeCloseTo(0.4, 2)
  })

  it('know what was used: pumped, less what the tank has gained', () => {
    // 5 l/h are drawn all day; the pump brings 200 l at noon.
    const noon = T0 + 12 * HOUR
    const pump: Span = [noon, noon + 50 * MINUTE]
    const up = filling([pump], 0.56)
    const scene: Scene = {
      ...ordinary([pump]),
      'tank-level': (t) => (up(t) ?? 0) - (5 * (t - T0)) / HOUR / 1_000,
    }
    const bench = new Bench(benchSite()).play(scene, T0, midnight + HOUR, 30 * SECOND).flush()
    const day = bench.days.get('2026-05-04')
    if (day?.usedL === null || day === undefined) throw new Error('expected a known use')
    expect(Math.abs(day.usedL.value - 120)).toBeLessThanOrEqual(3 * day.usedL.sd)
    expect(Math.abs(day.usedL.value - 120)).toBeLessThan(15)
    expect(day.covered).toBeGreaterThan(0.99)
    expect([day.batteryMinV, day.batteryMaxV]).toEqual([25.6, 26.4])
  })

  it('without data say so: nothing known is null, and the share that was covered is small', () => {
    const bench = new Bench(benchSite()).play(ordinary([]), T0, T0 + 6 * HOUR, 30 * SECOND)
    bench.advance(midnight + 25 * HOUR)
    bench.flush()
    const [covered, empty] = [bench.days.get('2026-05-04'), bench.days.get('2026-05-05')]
    expect(covered?.covered).toBeCloseTo(0.25, 2)
    expect(covered?.usedL).toBeNull()
    expect(empty).toMatchObject({ covered: 0, pumpedL: null, usedL: null, pumpWh: null, batteryMinV: null, fills: 0 })
  })

  it('in which a fill is unknown have no total, instead of one without it', () => {
    const stopped: Span = [T0 + 6 * HOUR, T0 + 6 * HOUR + 20 * MINUTE]
    const scene = ordinary([stopped])
    const bench = new Bench(benchSite())
    bench.play(scene, T0 + 5 * HOUR, stopped[0] + 10 * MINUTE)
    bench.play(ordinary([], 0.54), stopped[0] + 2 * HOUR, T0 + 23 * HOUR, 30 * SECOND).flush()
    expect(bench.only.volumeL).toBeNull()
    expect(bench.days.get('2026-05-04')).toMatchObject({ pumpedL: null, pumpWh: null, usedL: null, whPerL: null })
  })

  it('whose tank gained more than was seen to be pumped do not say that nothing was used', () => {
    // A whole fill of 200 l fell into an outage that nobody kept readings of.
    const bench = new Bench(benchSite())
    bench.play(ordinary([], 0.5), T0, T0 + 6 * HOUR, 30 * SECOND)
    bench.play(ordinary([], 0.7), T0 + 9 * HOUR, midnight + HOUR, 30 * SECOND).flush()
    expect(bench.cycles).toEqual([])
    expect(bench.days.get('2026-05-04')?.usedL).toBeNull()
  })
})

describe('a tank with probes alone', () => {
  const site = benchSite(PROBE_KEYS)

  /** Probes at 0.5, 0.7 and 1.1 m in a tank whose level is this. */
  function probes(level: Signal): Scene {
    const wet =
      (mark: number): Signal =>
      (t) =>
        (level(t) ?? 0) >= mark ? 1 : 0
    return { 'tank-probe-low': wet(0.5), 'tank-probe-high': wet(0.7), 'tank-probe-full': wet(1.1) }
  }

  /** Fills of 200 l from the low mark, 6 h apart; the tank is drawn down again in between, evenly. */
  function life(fills: number): { spans: Span[]; level: Signal } {
    const spans = Array.from({ length: fills }, (_, i): Span => {
      const start = T0 + 2 * HOUR + 6 * HOUR * i
      return [start, start + 50.5 * MINUTE]
    })
    const level: Signal = (t) => {
      let from = T0
      let m = 0.54
      for (const [start, end] of spans) {
        const low = 0.4995
        if (t < start) return m + ((low - m) * (t - from)) / (start - from)
        if (t < end) return low + (((t - start) / MINUTE) * FLOW_L_MIN) / 1_000
        m = low + (((end - start) / MINUTE) * FLOW_L_MIN) / 1_000
        from = end
      }
      return m
    }
    return { spans, level }
  }

  it('knows the volume of a fill from mark to mark, about the band', () => {
    const { spans, level } = life(4)
    const scene = { ...probes(level), 'pump-current': running(spans), 'battery-voltage': sagging(spans) }
    const bench = new Bench(site).play(scene, T0, T0 + 22 * HOUR)
    expect(bench.cycles.length).toBe(4)
    for (const { volumeL, endReason } of bench.cycles) {
      expect(endReason).toBe('full')
      if (volumeL === null) throw new Error('expected a volume')
      expect(Math.abs(volumeL.value - 202)).toBeLessThanOrEqual(2 * volumeL.sd)
    }
    expect(bench.looked.water).toMatchObject({ reckoned: true, lowWet: true, highWet: true })
  })

  it('does not know that of a fill that began above the low mark, or ended below the high one', () => {
    const above: Span = [T0 + 2 * HOUR, T0 + 2 * HOUR + 25 * MINUTE]
    const begun = {
      ...probes(filling([above], 0.605)),
      'pump-current': running([above]),
      'battery-voltage': sagging([above]),
    }
    const first = new Bench(site).play(begun, T0, T0 + 4 * HOUR).only
    expect(first).toMatchObject({ endReason: 'full', volumeL: null, complete: false })
    const below = {
      ...probes(filling([above], 0.499)),
      'pump-current': running([above]),
      'battery-voltage': sagging([above]),
    }
    const second = new Bench(site).play(below, T0, T0 + 4 * HOUR).only
    expect(second).toMatchObject({ endReason: 'manual', volumeL: null, complete: false })
    expect(first.energyWh?.value).toBeCloseTo((3 * 25.6 * 25) / 60, 0)
  })

  it('closes the account of a day with the first full fill after it', () => {
    const { spans, level } = life(9)
    const scene = { ...probes(level), 'pump-current': running(spans), 'battery-voltage': sagging(spans) }
    const bench = new Bench(site).play(scene, T0, T0 + 48 * HOUR, 15 * SECOND).flush()
    expect(bench.days.get('2026-05-05')?.usedL).toBeNull()
    bench.play(scene, T0 + 48 * HOUR, T0 + 52 * HOUR, 15 * SECOND).flush()
    // The first day has no fill before it from which to count; the second lies between two. 202 l every 6 h.
    expect(bench.days.get('2026-05-04')?.usedL).toBeNull()
    const used = bench.days.get('2026-05-05')?.usedL ?? null
    if (used === null) throw new Error('expected a known use')
    expect(Math.abs(used.value - 808)).toBeLessThanOrEqual(2 * used.sd)
    expect(Math.abs(used.value - 808)).toBeLessThan(60)
  })
})

describe('a meter after the pump', () => {
  const fill: Span = [T0 + 2 * HOUR, T0 + 2 * HOUR + 50 * MINUTE]

  function metered(counter: Signal): Bench {
    const site = benchSite(['tank-level'], ['pump-volume'])
    return new Bench(site).play({ ...ordinary([fill]), 'pump-volume': counter }, T0 + HOUR, T0 + 4 * HOUR)
  }

  const brought = (t: Ms): number => (Math.max(0, Math.min(t, fill[1]) - fill[0]) / MINUTE) * 4.4

  it('counts what was delivered, also what was drawn meanwhile', () => {
    const { volumeL } = metered((t) => 8_000 + brought(t)).only
    expect(volumeL?.value).toBeCloseTo(220, -1)
    expect(Math.abs((volumeL?.value ?? 0) - 220)).toBeLessThanOrEqual(2 * (volumeL?.sd ?? 0))
  })

  it('goes on counting when it restarts from 0 in mid-fill, or wraps: at most one interval is lost', () => {
    const half = fill[0] + 25 * MINUTE
    const whole = metered((t) => 8_000 + brought(t)).only.volumeL?.value ?? 0
    const oneInterval = (4.4 * 10) / 60
    for (const counter of [
      (t: Ms) => (t < half ? 8_000 + brought(t) : brought(t) - brought(half)),
      (t: Ms) => (9_900 + brought(t)) % 10_000,
    ]) {
      const lost = whole - (metered(counter).only.volumeL?.value ?? 0)
      expect(lost).toBeGreaterThanOrEqual(0)
      expect(lost).toBeLessThanOrEqual(oneInterval + 1e-6)
    }
  })

  it('is not taken to begin anew when its last digit trembles', () => {
    const tremble = (t: Ms) => ((t / SECOND / 10) % 2 === 0 ? 1 : 0)
    const { volumeL } = metered((t) => 8_000 + brought(t) + tremble(t)).only
    expect(Math.abs((volumeL?.value ?? 0) - 220)).toBeLessThanOrEqual(2 * (volumeL?.sd ?? 0))
  })
})

describe('the energy of a run without a voltage', () => {
  const long: Span = [T0 + HOUR, T0 + 7 * HOUR]
  const scene = { ...ordinary([long]), 'battery-voltage': (t: Ms) => (t < T0 + 2 * HOUR ? 26 : null) }

  it('is unknown, and what waits for one stays few however long it runs', () => {
    const bench = new Bench(benchSite()).play(scene, T0, T0 + 6 * HOUR)
    // 90 s of waiting at a reading each 10 s.
    expect(bench.state.pump.run?.energy.pending.length).toBeLessThanOrEqual(11)
    bench.play(scene, T0 + 6 * HOUR, T0 + 8 * HOUR)
    expect(bench.only.energyWh).toBeNull()
    expect(bench.only.currentMeanA).toBeCloseTo(3, 1)
  })

  it('is known where the voltage was missing for no longer than a gap may be', () => {
    const short: Span = [T0 + HOUR, T0 + HOUR + 20 * MINUTE]
    const missing = (t: Ms) => t > T0 + 70 * MINUTE && t < T0 + 71 * MINUTE
    const bench = new Bench(benchSite()).play(
      { ...ordinary([short]), 'battery-voltage': (t: Ms) => (missing(t) ? null : 26) },
      T0,
      T0 + 2 * HOUR,
    )
    expect(bench.only.energyWh?.value).toBeCloseTo((3 * 26 * 20) / 60, 0)
  })
})

describe('learning', () => {
  const day = (i: number): Span => [T0 + 24 * HOUR * i + 6 * HOUR, T0 + 24 * HOUR * i + 6 * HOUR + 50 * MINUTE]

  /** A fill a day; overnight the tank is drawn back to the low mark. */
  function days(count: number): Scene {
    const spans = Array.from({ length: count }, (_, i) => day(i))
    const level: Signal = (t) => {
      const since = (t - T0) % (24 * HOUR)
      const begun = 6 * HOUR
      const risen = ((Math.max(0, Math.min(since - begun, 50 * MINUTE)) / MINUTE) * FLOW_L_MIN) / 1_000
      const drawn = since > 8 * HOUR ? Math.min(0.2, ((since - 8 * HOUR) / (12 * HOUR)) * 0.2) : 0
      return 0.5 + risen - drawn
    }
    return { ...ordinary(spans), 'tank-level': level }
  }

  it('ends with the eighth complete fill', () => {
    const bench = new Bench(benchSite())
    const seen: (readonly [number, boolean])[] = []
    bench.onLook = ({ completeFills, learning }) => {
      if (seen.at(-1)?.[0] !== completeFills) seen.push([completeFills, learning])
    }
    bench.play(days(9), T0, T0 + 9 * 24 * HOUR, 30 * SECOND)
    expect(seen).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9].map((fills) => [fills, fills < 8]))
    expect(bench.looked.pump.usualA?.value).toBeCloseTo(3, 1)
    expect(bench.looked.water.usualFlowLMin?.value).toBeCloseTo(FLOW_L_MIN, 0)
  })

  it('ends after 14 days whatever there was to learn', () => {
    const bench = new Bench(benchSite()).play(ordinary([]), T0, T0 + HOUR)
    expect(bench.looked.learning).toBe(true)
    bench.advance(T0 + 13 * 24 * HOUR)
    expect(bench.looked.learning).toBe(true)
    bench.advance(T0 + 14 * 24 * HOUR + HOUR)
    expect(bench.looked.learning).toBe(false)
  })

  it('begins again with a new baseline: what was usual is no guide any more', () => {
    const bench = new Bench(benchSite()).play(days(3), T0, T0 + 3 * 24 * HOUR, 30 * SECOND)
    expect(bench.looked.completeFills).toBe(3)
    bench.engine.rebase(bench.state, bench.state.at)
    bench.play(ordinary([], 0.6), T0 + 3 * 24 * HOUR, T0 + 3 * 24 * HOUR + MINUTE)
    expect(bench.looked).toMatchObject({ completeFills: 0, learning: true })
    // Only the rating is left, and it says so: it rests on no fill.
    expect(bench.looked.pump.usualA).toMatchObject({ value: 3, fills: 0 })
    expect(bench.looked.water.usualFlowLMin).toBeNull()
  })
})
