/** Streams of fills as the engine sees them in healthy months, made cheaply and many. */
import type { FillPoint } from '../../../src/infer/trend/baseline.js'
import { createTrend, type TrendState } from '../../../src/infer/trend/state.js'
import { takePoint } from '../../../src/infer/trend/take-fill.js'
import type { YieldSight } from '../../../src/model/facts-trend.js'
import { DAY } from '../../../src/model/time.js'

export type Chance = { next(): number; normal(): number }

/** A small generator of its own (mulberry32) with normals by Box and Muller: the same seed gives the same stream. */
export function seeded(seed: number): Chance {
  let state = seed >>> 0
  const next = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
  return { next, normal: () => Math.sqrt(-2 * Math.log(1 - next())) * Math.cos(2 * Math.PI * next()) }
}

/**
 * Where the rate of a fill lies below the pump's own, in logarithms, with probes only: deciles of 1,000 fills of three
 * simulated years at the second example site.
 */
const DRAWN = [0, 0.008, 0.019, 0.032, 0.048, 0.075, 0.1, 0.136, 0.18, 0.246, 0.5]

function drawn(chance: Chance): number {
  const at = chance.next() * (DRAWN.length - 1)
  const below = Math.floor(at)
  const low = DRAWN[below] ?? 0
  return low + (at - below) * ((DRAWN[below + 1] ?? low) - low)
}

export type Stream = {
  readonly sight: YieldSight
  readonly seed: number
  /** Change of yield at a time, as a difference of logarithms; 0: none. */
  readonly change?: (t: number) => number
  /** Days between fills. */
  readonly everyDays?: number
  /** No fills between these days. */
  readonly pause?: readonly [number, number]
}

/**
 * A site's fills from its first on. Noise with a level sensor: 1.1 % and now and then (one in 12) up to 6 % too low, as
 * in simulated years at the first example site; voltages within 1.3 %, the yield following them by 1.2.
 */
export class FillStream {
  readonly trend: TrendState = createTrend()
  readonly #stream: Stream
  readonly #chance: Chance
  t = 0

  constructor(stream: Stream) {
    this.#stream = stream
    this.#chance = seeded(stream.seed)
  }

  /** One fill; returns the trend after it. */
  fill(): TrendState {
    const { sight, change, everyDays = 1, pause } = this.#stream
    const chance = this.#chance
    this.t += everyDays * DAY * (0.6 + 0.8 * chance.next())
    if (pause !== undefined && this.t > pause[0] * DAY && this.t < pause[1] * DAY) this.t = pause[1] * DAY
    const volts = 0.013 * chance.normal()
    const low =
      sight === 'quiet-fills'
        ? drawn(chance) + 0.004 * chance.normal()
        : 0.011 * chance.normal() + (chance.next() < 1 / 12 ? 0.06 * chance.next() : 0)
    const y = Math.log(4.2) + 1.2 * volts - low + (change?.(this.t) ?? 0)
    const point: FillPoint = {
      t: Math.round(this.t),
      y,
      w: Math.log(80 / 60) + volts - y,
      v: Math.log(26.6) + volts,
      i: Math.log(3) + 0.002 * chance.normal(),
      sd: 0.021,
    }
    takePoint(this.trend, point, sight)
    return this.trend
  }

  fills(count: number): TrendState {
    for (let k = 0; k < count; k += 1) this.fill()
    return this.trend
  }
}
