/** The trend in the engine: what is learned from fills, a step and its mending, a new baseline, the check valve. */
import { describe, expect, it } from 'vitest'
import type { TrendFacts } from '../../../src/model/facts-trend.js'
import { HOUR, MINUTE, type Ms } from '../../../src/model/time.js'
import { Bench, benchSite, PROBE_KEYS, type Signal, T0 } from '../support.js'

const CYCLE_MS = 2 * HOUR
const BAND_L = 200
/** The first fill begins when the bench has been watched for a while. */
const FIRST: Ms = T0 + 20 * MINUTE

type Place = {
  /** Litres a minute in the n-th fill. */
  readonly rate?: (fill: number) => number
  readonly amps?: (fill: number, seconds: number) => number
}

/** A fill of the band each two hours, drawn off evenly in between. */
function place({ rate = () => 4, amps = () => 3 }: Place) {
  const at = (t: Ms) => {
    const fill = Math.floor((t - FIRST) / CYCLE_MS)
    const ms = t - FIRST - fill * CYCLE_MS
    const lastsMs = (BAND_L / rate(fill)) * MINUTE
    return { fill, ms, lastsMs, on: fill >= 0 && ms < lastsMs }
  }
  const level: Signal = (t) => {
    const { fill, ms, lastsMs, on } = at(t)
    if (fill < 0) return 0.5
    if (on) return 0.5 + (0.2 * ms) / lastsMs
    return 0.7 - (0.2 * (ms - lastsMs)) / (CYCLE_MS - lastsMs)
  }
  const current: Signal = (t) => {
    const { fill, ms, on } = at(t)
    return on ? amps(fill, ms / 1000) : 0
  }
  const voltage: Signal = (t) => (at(t).on ? 25.6 : 26.4)
  return { 'tank-level': level, 'pump-current': current, 'battery-voltage': voltage }
}

function play(bench: Bench, scene: ReturnType<typeof place>, fills: number, from = 0): TrendFacts {
  const start = from === 0 ? T0 : FIRST + from * CYCLE_MS
  bench.play(scene, start, FIRST + (from + fills) * CYCLE_MS)
  return bench.looked.trend
}

describe('what is usual', () => {
  it('is listed with value, spread, the fills that it rests on and since when', () => {
    const bench = new Bench(benchSite())
    const trend = play(bench, place({}), 12)
    const of = (id: string) => trend.figures.find((one) => one.id === id)
    expect(of('running-current')?.usual.value).toBeCloseTo(3, 2)
    expect(of('running-power')?.usual.value).toBeCloseTo(3 * 25.6, 0)
    expect(of('reference-voltage')?.usual.value).toBeCloseTo(25.6, 1)
    expect(of('yield')?.usual.value).toBeCloseTo(4, 1)
    expect(of('energy-per-litre')?.usual.value).toBeCloseTo((3 * 25.6) / 240, 2)
    expect(of('current-zero')?.usual.value).toBeCloseTo(0, 3)
    expect(of('fill-volume')?.usual.fills).toBe(bench.cycles.length)
    expect(of('fill-volume')?.since).toBe(bench.cycles[0]?.end)
  })

  it('is not told before a fill has shown it, and says so', () => {
    const bench = new Bench(benchSite())
    const { trend } = bench.play(place({}), T0, T0 + 10 * MINUTE).looked
    expect([trend.yield.direction, trend.figures.length]).toEqual(['learning', 0])
  })

  it('is not measured where nothing shows the water', () => {
    const bench = new Bench(benchSite([PROBE_KEYS[0]]))
    const scene = place({})
    const trend = bench.play({ ...scene, 'tank-probe-low': () => 1 }, T0, FIRST + CYCLE_MS).looked.trend
    expect([trend.sight, trend.yield.direction]).toEqual(['none', 'not-measured'])
  })

  it('survives being stored and taken up again, and stays small', () => {
    const bench = new Bench(benchSite())
    const scene = place({ rate: (fill) => (fill < 14 ? 4 : 3.5) })
    play(bench, scene, 20)
    const text = bench.engine.serialise(bench.state)
    expect(JSON.stringify(bench.state.trend).length).toBeLessThan(10_000)
    bench.state = bench.engine.restore(text)
    const before = structuredClone(bench.state.trend)
    expect(before.yield.moved).toBe(-1)
    expect(play(bench, scene, 1, 20).yield.direction).toBe('fallen')
  })
})

describe('a step of 10 % in yield', () => {
  const stepped = place({ rate: (fill) => (fill < 14 ? 4 : 3.6) })

  it('is told within 5 fills, with its size, its beginning, and the current as before', () => {
    const bench = new Bench(benchSite())
    expect(play(bench, stepped, 14).yield.direction).toBe('steady')
    const trend = play(bench, stepped, 5, 14)
    expect(trend.yield.direction).toBe('fallen')
    expect(trend.energy.direction).toBe('risen')
    expect(trend.yield.share).toBeCloseTo(-0.1, 2)
    expect(trend.energy.share).toBeCloseTo(1 / 0.9 - 1, 2)
    expect(trend.currentShare).toBeCloseTo(0, 2)
    expect(Math.abs((trend.yield.since ?? 0) - (FIRST + 14 * CYCLE_MS))).toBeLessThan(MINUTE)
    expect(trend.suggestion).toBeNull()
  })

  it('that stays steady asks for a word in the service log, and a new baseline ends the story', () => {
    const bench = new Bench(benchSite())
    const trend = play(bench, stepped, 26)
    expect(trend.suggestion).toMatchObject({ of: 'yield' })
    expect(trend.suggestion?.share).toBeCloseTo(-0.1, 2)
    bench.engine.rebase(bench.state, bench.state.at)
    const fresh = play(bench, stepped, 1, 26)
    expect([fresh.yield.direction, fresh.suggestion, fresh.yield.base?.fills]).toEqual(['learning', null, 1])
    const learned = play(bench, stepped, 9, 27)
    expect(learned.yield.direction).toBe('steady')
    expect(learned.yield.base?.value).toBeCloseTo(3.6, 1)
  })

  it('does not ask where the yield still goes on falling', () => {
    const bench = new Bench(benchSite())
    const trend = play(bench, place({ rate: (fill) => (fill < 12 ? 4 : 4 - 0.06 * (fill - 12)) }), 34)
    expect(trend.yield.direction).toBe('fallen')
    expect(trend.suggestion).toBeNull()
  })

  it('upwards is seen, too', () => {
    const bench = new Bench(benchSite())
    const trend = play(bench, place({ rate: (fill) => (fill < 12 ? 4 : 4.6) }), 26)
    expect([trend.yield.direction, trend.energy.direction]).toEqual(['risen', 'fallen'])
    expect(trend.suggestion?.share).toBeCloseTo(0.15, 2)
  })
})

describe('water that stands lower in the well', () => {
  it('shows as more current and energy at the same yield', () => {
    const bench = new Bench(benchSite())
    const trend = play(bench, place({ amps: (fill) => (fill < 12 ? 3 : 3.4) }), 20)
    expect([trend.yield.direction, trend.energy.direction]).toEqual(['steady', 'risen'])
    expect(trend.currentShare).toBeCloseTo(0.133, 2)
  })
})

describe('the check valve', () => {
  /** The current climbs from three quarters of its usual while the pipe fills. */
  const climbing = (fillsS: (fill: number) => number) => (fill: number, seconds: number) =>
    seconds < fillsS(fill) ? 3 * (0.75 + (0.15 * seconds) / fillsS(fill)) : 3

  it('is as usual where the current is up at once', () => {
    const bench = new Bench(benchSite())
    const { checkValve } = play(bench, place({}), 12)
    expect(checkValve).toMatchObject({ verdict: 'as-usual', witness: 'current', since: null, resolutionS: 10 })
  })

  it('takes longer when the pipe drains between fills, and is dated', () => {
    const bench = new Bench(benchSite())
    const amps = climbing((fill) => (fill < 12 ? 0 : 150))
    const { checkValve } = play(bench, place({ amps }), 18)
    expect(checkValve.verdict).toBe('longer')
    expect(Math.abs((checkValve.recentS ?? 0) - 150)).toBeLessThanOrEqual(20)
    expect(Math.abs((checkValve.since ?? 0) - (FIRST + 12 * CYCLE_MS))).toBeLessThan(MINUTE)
  })

  it('is not called longer after one slow start', () => {
    const bench = new Bench(benchSite())
    const amps = climbing((fill) => (fill === 13 ? 200 : 0))
    const { checkValve } = play(bench, place({ amps }), 16)
    expect(checkValve.verdict).toBe('as-usual')
  })
})
