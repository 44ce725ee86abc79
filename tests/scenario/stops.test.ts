/**
 * Kinds of stop must never be mixed up: full, dry, cut-off, jammed, by hand, lost data. A labelled set of stops with
 * chance in all that a place varies in (depth of the fall, length of the light current, voltages, noise, phases).
 */
import { expect, it } from 'vitest'
import { Random } from '../../simulators/random.js'
import type { EndReason } from '../../src/model/fill.js'
import { HOUR, MINUTE, SECOND } from '../../src/model/time.js'
import { Bench, benchSite, FLOW_L_MIN, ordinary, type Span, T0 } from '../infer/support.js'

const LABELS = ['full', 'dry', 'cut-off', 'jammed', 'by hand', 'lost'] as const
type Label = (typeof LABELS)[number]
/** What was not seen must not be given a reason. */
const RIGHT: Readonly<Record<Label, EndReason>> = {
  full: 'full',
  dry: 'dry',
  'cut-off': 'power-lost',
  jammed: 'stalled',
  'by hand': 'manual',
  lost: 'unknown',
}
const OF_EACH = 12
const START = T0 + 18 * HOUR

/** An engine that knows its pump from four fills, as text. */
function knownState(): string {
  const bench = new Bench(benchSite())
  let at = T0
  for (const i of [0, 1, 2, 3]) {
    const from = T0 + (1 + 4 * i) * HOUR
    const span: Span = [from, from + 50 * MINUTE]
    bench.play(ordinary([span]), at, span[1] + 2 * HOUR)
    at = span[1] + 2 * HOUR
  }
  bench.play(ordinary([]), at, START - 10 * MINUTE)
  return bench.engine.serialise(bench.state)
}

function stop(label: Label, seed: number, known: string): EndReason | undefined {
  const chance = new Random(seed, label)
  const bench = new Bench(benchSite())
  bench.state = bench.engine.restore(known)
  const minutes = label === 'full' ? 50 : chance.between(8, 35)
  const end = START + Math.round(minutes * 60) * SECOND
  const bad = end - Math.round(label === 'dry' ? chance.between(50, 300) : chance.between(20, 90)) * SECOND
  const lightShare = chance.between(0.35, 0.7)
  const restV = label === 'cut-off' ? chance.between(24.6, 25.2) : chance.between(25.8, 27.5)
  const cutV = chance.between(23, 24.2)
  const goesDark = chance.chance(0.4)
  const runs = (t: number) => t >= START && t < end
  const amps = (t: number): number | null => {
    if (label === 'lost' && t >= bad && t < bad + 40 * MINUTE) return null
    const noise = 0.02 * chance.normal()
    if (!runs(t)) return noise
    if (label === 'dry' && t >= bad) return 3 * lightShare * (1 + 0.08 * chance.normal())
    if (label === 'jammed' && t >= bad) return 3 * chance.between(2.5, 5)
    if (label === 'cut-off') return 3 * (0.85 + (0.15 * (end - t)) / (end - START)) + noise
    return 3 + noise
  }
  const volts = (t: number): number | null => {
    if (label === 'lost' && t >= bad && t < bad + 40 * MINUTE) return null
    const noise = 0.01 * chance.normal()
    if (label !== 'cut-off') return restV - (runs(t) ? 0.8 : 0) + (label === 'dry' && t >= bad ? 0.3 : 0) + noise
    if (t >= end) return goesDark ? null : restV - 0.3 + noise
    return runs(t) ? restV - 0.6 - ((restV - 0.6 - cutV) * (t - START)) / (end - START) + noise : restV + noise
  }
  const level = (t: number): number => {
    const wet = Math.max(0, Math.min(t, end, label === 'dry' || label === 'jammed' ? bad : end) - START)
    return 0.5 + ((wet / MINUTE) * FLOW_L_MIN) / 1_000 + 0.001 * chance.normal()
  }
  const scene = { 'tank-level': level, 'pump-current': amps, 'battery-voltage': volts }
  bench.play(scene, START - 10 * MINUTE + chance.below(9) * SECOND, end + HOUR)
  return bench.cycles[0]?.endReason
}

it(`of ${LABELS.length * OF_EACH} labelled stops at least 95 % are named right, and no cut-off is named dry`, () => {
  const known = knownState()
  const found = LABELS.flatMap((label) =>
    Array.from({ length: OF_EACH }, (_, seed) => ({ label, seed, named: stop(label, seed, known) })),
  )
  const wrong = found.filter(({ label, named }) => named !== RIGHT[label])
  expect(found.filter(({ label, named }) => label === 'cut-off' && named === 'dry')).toEqual([])
  expect(wrong.length / found.length, JSON.stringify(wrong)).toBeLessThanOrEqual(0.05)
})
