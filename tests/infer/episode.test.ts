import { describe, expect, it } from 'vitest'
import { HOUR, MINUTE, SECOND } from '../../src/model/time.js'
import {
  Bench,
  benchSite,
  FLOW_L_MIN,
  filling,
  LEVEL_KEYS,
  ordinary,
  running,
  sagging,
  type Span,
  T0,
} from './support.js'

/** Four ordinary fills of 50 min, a few hours apart, so that the pump is known. */
const KNOWN: readonly Span[] = [0, 1, 2, 3].map(
  (i): Span => [T0 + (1 + 4 * i) * HOUR, T0 + (1 + 4 * i) * HOUR + 50 * MINUTE],
)
const LATER = T0 + 18 * HOUR

function known(): Bench {
  const bench = new Bench(benchSite(LEVEL_KEYS))
  let at = T0
  for (const span of KNOWN) {
    bench.play(ordinary([span]), at, span[1] + 2 * HOUR)
    at = span[1] + 2 * HOUR
  }
  return bench.play(ordinary([]), at, LATER)
}

/** Runs of `waterMin` with water and `lightMin` without, `restMin` apart. */
function slowWell(bench: Bench, n: number, waterMin: number, lightMin: number, restMin: number, from = LATER): number {
  const wet: Span[] = []
  const all: Span[] = []
  let t = from
  for (let i = 0; i < n; i += 1) {
    wet.push([t, t + waterMin * MINUTE])
    all.push([t, t + (waterMin + lightMin) * MINUTE])
    t += (waterMin + lightMin + restMin) * MINUTE
  }
  const amps = (at: number) => (wet.some(([a, b]) => at >= a && at < b) ? 3 : 1.6)
  bench.play(
    { 'tank-level': filling(wet, 0.4), 'pump-current': running(all, amps), 'battery-voltage': sagging(all) },
    from,
    t - restMin * MINUTE + 10 * MINUTE,
  )
  return t
}

describe('a slow well', () => {
  it('twelve runs of ten minutes with rests of twenty are one episode, its figures within 10 %', () => {
    const bench = known()
    slowWell(bench, 12, 8, 2, 20)
    const { episode } = bench.looked
    expect(episode).toMatchObject({ open: true, active: true, starts: 12, rests: 12 })
    expect(bench.cycles.slice(4).map(({ endReason }) => endReason)).toEqual(Array.from({ length: 12 }, () => 'dry'))
    expect(Math.abs((episode.since ?? 0) - LATER)).toBeLessThanOrEqual(10 * SECOND)
    const litres = 8 * FLOW_L_MIN
    expect(Math.abs((episode.litresPerStart?.value ?? 0) / litres - 1)).toBeLessThan(0.1)
    expect(Math.abs((episode.litresPerRestH?.value ?? 0) / (3 * litres) - 1)).toBeLessThan(0.1)
    expect(Math.abs((episode.recoveryLH?.value ?? 0) / (2 * litres) - 1)).toBeLessThan(0.1)
    expect(episode.known).toBe(false)
  })

  it('is known from then on, and a dry end like those before is as usual, one with hardly any water is not', () => {
    const bench = known()
    slowWell(bench, 5, 8, 2, 20)
    const next = LATER + 8 * HOUR
    bench.play(
      { 'tank-level': () => 0.5, 'pump-current': () => 0, 'battery-voltage': () => 26.4 },
      LATER + 3 * HOUR,
      next,
    )
    expect(bench.looked.episode).toMatchObject({ open: false, known: true })
    slowWell(bench, 1, 8, 2, 20, next)
    expect(bench.looked.episode).toMatchObject({ open: true, active: false, asUsual: true })
    slowWell(bench, 1, 1.5, 2, 20, next + 30 * MINUTE)
    expect(bench.looked.episode).toMatchObject({ open: true, asUsual: false })
  })

  it('is none where no water ever came: that is a lost prime', () => {
    const bench = known()
    slowWell(bench, 5, 0, 6, 20)
    expect(bench.looked.episode).toMatchObject({ open: false, rests: 0 })
  })

  it('is over when nothing has started for longer than any control rests', () => {
    const bench = known()
    const end = slowWell(bench, 3, 8, 2, 20)
    const quiet = { 'tank-level': () => 0.5, 'pump-current': () => 0, 'battery-voltage': () => 26.4 }
    bench.play(quiet, end, end + 40 * MINUTE)
    expect(bench.looked.episode.open).toBe(true)
    bench.play(quiet, end + 40 * MINUTE, end + 80 * MINUTE)
    expect(bench.looked.episode.open).toBe(false)
  })
})

describe('a control that chatters', () => {
  const chatter = (onS: number, offS: number, from: number, to: number) => (t: number) =>
    t >= from && t < to && ((t - from) / SECOND) % (onS + offS) < onS ? 3 : 0

  it.each([
    ['15 s on and 35 s off', 15, 35],
    ['7 s on and 6 s off', 7, 6],
  ])('%s is seen within three minutes, and its runs are not stored as many fills', (_, onS, offS) => {
    const bench = known()
    let seenAt: number | null = null
    bench.onLook = ({ at, episode }) => {
      if (episode.chatterSince !== null) seenAt ??= at
    }
    const to = LATER + 20 * MINUTE
    bench.play(
      { 'tank-level': () => 0.5, 'pump-current': chatter(onS, offS, LATER, to), 'battery-voltage': () => 26 },
      LATER,
      to + HOUR,
    )
    expect(seenAt).not.toBeNull()
    expect((seenAt ?? 0) - LATER).toBeLessThanOrEqual(3 * MINUTE + 15 * SECOND)
    expect(bench.cycles.length - KNOWN.length).toBeLessThanOrEqual(4)
    expect(bench.cycles.slice(KNOWN.length).some(({ complete }) => complete)).toBe(false)
    expect(bench.looked.episode.chatterSince).toBeNull()
  })

  it('is none in an ordinary day, nor where a protector trips on a jam and tries again', () => {
    const bench = known()
    expect(bench.state.episode.chatter.since).toBeNull()
    const trips = (t: number) => (((t - LATER) / SECOND) % 68 < 8 ? 12 : 0)
    let seen = false
    bench.onLook = ({ episode }) => {
      seen ||= episode.chatterSince !== null
    }
    bench.play(
      { 'tank-level': () => 0.5, 'pump-current': trips, 'battery-voltage': () => 26 },
      LATER,
      LATER + 30 * MINUTE,
    )
    expect(seen).toBe(false)
  })
})
