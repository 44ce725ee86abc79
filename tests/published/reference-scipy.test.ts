/**
 * Segmentation of fills, energy and robust statistics against a general-purpose library on the same signals: SciPy and
 * NumPy as Debian has them (python3-scipy; scipy.integrate.trapezoid, scipy.stats.theilslopes, linregress and
 * median_abs_deviation, scipy.ndimage, numpy.quantile). The reference knows nothing of pumps: a threshold at half the
 * high level, and the area under volts times amperes. No measured recording of a well pump with a clear licence was found.
 */
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'
import { beforeAll, describe, expect, it } from 'vitest'
import { simulate } from '../../simulators/simulate.js'
import { SITE_IDS, type SiteId } from '../../simulators/plan.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { theilSen } from '../../src/infer/loss/slope.js'
import { fitLine, MAD_TO_SD, median, medianAbsoluteDeviation, quantile } from '../../src/infer/stats.js'
import type { FillCycle } from '../../src/model/fill.js'
import type { Arrival } from '../../src/model/sample.js'
import { SECOND } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { settingsOf } from '../scenario/detection/run-case.js'
import { needsPython } from '../support/needs.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
const PROGRAM = fileURLToPath(new URL('./reference.py', import.meta.url))
const python = needsPython('scipy.ndimage', 'python3-scipy')

function reference<T>(what: 'fills' | 'lines', asked: unknown): T {
  const { status, stdout, stderr } = spawnSync(python ?? '', [PROGRAM, what], {
    input: JSON.stringify(asked),
    encoding: 'utf8',
    maxBuffer: 1e8,
  })
  if (status !== 0) throw new Error(stderr)
  return JSON.parse(stdout) as T
}

type Signal = { readonly t: number[]; readonly v: number[] }
type Lived = {
  readonly cycles: readonly FillCycle[]
  readonly current: Signal
  readonly voltage: Signal
  readonly level: Signal
}

const lives = new Map<SiteId, Promise<Lived>>()

/** Days of a site with eight people, through the line once; and the samples as they were stored. */
function live(site: SiteId): Promise<Lived> {
  const lived = lives.get(site) ?? liveOnce(site)
  lives.set(site, lived)
  return lived
}

async function liveOnce(site: SiteId): Promise<Lived> {
  const store = openStore({ file: ':memory:', now: 0 })
  const line = new Line({ sites: [settingsOf(site)], store, log: LOG, judging: false, link: () => null })
  const { messages } = simulate({ site, seed: 11, startMs: Date.UTC(2026, 4, 4, 7), days: 3, people: 8 })
  const arrivals = function* (): Generator<Arrival> {
    for (const { at, topic, payload } of messages) yield { at, topic, payload: Buffer.from(payload), retain: false }
  }
  await drive(line, arrivals(), { commitMessages: 500 })
  const signal = (key: string): Signal => {
    const found: Signal = { t: [], v: [] }
    const id = store.seriesList(site).find((one) => one.key === key)?.id
    if (id === undefined) return found
    store.read([id], 0, Number.MAX_SAFE_INTEGER, (_, t, v) => {
      found.t.push(t)
      found.v.push(v)
    })
    return found
  }
  const lived = {
    cycles: store.cycles.list(site, 0, Number.MAX_SAFE_INTEGER, 1_000),
    current: signal('pump-current'),
    voltage: signal('battery-voltage'),
    level: signal('tank-level'),
  }
  store.close()
  return lived
}

type Fill = { readonly start: number; readonly end: number; readonly energyWh: number; readonly currentA: number }

describe.skipIf(python === null).each(SITE_IDS)('fills of %s beside SciPy', (site) => {
  let lived: Lived
  let theirs: readonly Fill[]
  beforeAll(async () => {
    lived = await live(site)
    theirs = reference<{ fills: Fill[] }>('fills', { current: lived.current, voltage: lived.voltage }).fills
  })

  it('are as many, and begin and end within a sample', () => {
    expect(theirs.length).toBeGreaterThan(4)
    expect(lived.cycles).toHaveLength(theirs.length)
    for (const [nth, { start, end }] of lived.cycles.entries()) {
      expect(Math.abs(start - (theirs[nth]?.start ?? 0))).toBeLessThanOrEqual(10 * SECOND)
      expect(Math.abs(end - (theirs[nth]?.end ?? 0))).toBeLessThanOrEqual(10 * SECOND)
    }
  })

  it('have their energy and their current within 1 %, which half a sample at each end is', () => {
    for (const [nth, { energyWh, currentMeanA }] of lived.cycles.entries()) {
      const other = theirs[nth]
      expect(Math.abs((energyWh?.value ?? 0) / (other?.energyWh ?? 0) - 1)).toBeLessThan(0.01)
      expect(Math.abs((currentMeanA ?? 0) / (other?.currentA ?? 0) - 1)).toBeLessThan(0.01)
    }
  })
})

type Lines = {
  readonly theil: readonly [number, number, number, number]
  readonly least: readonly [number, number, number, number]
  readonly median: number
  readonly mad: number
  readonly madSd: number
  readonly quantiles: readonly number[]
}

describe.skipIf(python === null)('statistics beside SciPy, on the level and the voltage of juniper', () => {
  const shares = [0, 0.05, 0.25, 0.5, 0.9, 1]
  let cases: readonly { readonly x: readonly number[]; readonly y: readonly number[]; readonly theirs: Lines }[]
  beforeAll(async () => {
    const lived = await live('juniper')
    cases = [lived.level, lived.voltage].flatMap(({ t, v }) =>
      [0, 4_000, 9_000].map((from) => {
        const x = t.slice(from, from + 60).map((at) => (at - (t[from] ?? 0)) / 1_000)
        const y = v.slice(from, from + 60)
        return { x, y, theirs: reference<Lines>('lines', { x, y, shares }) }
      }),
    )
  })

  it('Theil–Sen has the same slope, and the same 95 % interval within a rank', () => {
    for (const { x, y, theirs } of cases) {
      const ours = theilSen(x, y)
      const [slope, , low, high] = theirs.theil
      expect(ours?.slope).toBeCloseTo(slope, 12)
      // Its intercept is median(y) − slope · median(x), ours Conover's median of y − slope · x.
      const width = high - low
      expect(Math.abs((ours?.low ?? 0) - low)).toBeLessThanOrEqual(0.05 * width)
      expect(Math.abs((ours?.high ?? 0) - high)).toBeLessThanOrEqual(0.05 * width)
    }
  })

  it('least squares has the same line and the same doubts', () => {
    for (const { x, y, theirs } of cases) {
      const ours = fitLine(x, y)
      const found = [ours?.slope, ours?.intercept, ours?.slopeSd, ours?.interceptSd]
      for (const [nth, value] of found.entries()) expect(value).toBeCloseTo(theirs.least[nth] ?? Number.NaN, 9)
    }
  })

  it('median, median absolute deviation and quantiles are the same', () => {
    for (const { y, theirs } of cases) {
      expect(median(y)).toBeCloseTo(theirs.median, 12)
      expect(medianAbsoluteDeviation(y)).toBeCloseTo(theirs.mad, 12)
      expect(medianAbsoluteDeviation(y) * MAD_TO_SD).toBeCloseTo(theirs.madSd, 12)
      expect(
        shares.map((share) => quantile(y, share)).map((q, i) => Math.abs(q - (theirs.quantiles[i] ?? 0)) < 1e-12),
      ).not.toContain(false)
    }
  })
})
