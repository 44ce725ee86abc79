/** Each fault of pump, well and control shows the row of the trade's diagnosis table (common practice ranges). */
import { describe, expect, test } from 'vitest'
import { planOf, usualCurrentA } from '../../simulators/plan.js'
import { cases, currentShare, firstRun, under } from './pump-watch.js'
import { hours, START } from './watch.js'

describe.each(cases)('at %s, %s', (site, severity) => {
  test('a dry well: normal, then down to 40–70 %, the voltage up a little, no water', () => {
    const watched = under(site, 'dry-well', severity)
    const run = firstRun(watched)
    const stopped = run.waterStoppedAt ?? Number.NaN
    expect(stopped - run.start).toBeGreaterThan(3 * 60_000)
    expect(currentShare(watched, site, run.start + 60_000, stopped - 20_000)).toBeGreaterThan(0.95)
    const end = Math.min(run.end, stopped + 170_000)
    const share = currentShare(watched, site, stopped + 20_000, end)
    expect(share).toBeGreaterThan(0.35)
    expect(share).toBeLessThan(0.72)
    expect(watched.truth.marks.some((mark) => mark.what === 'water-stopped' && mark.at === stopped)).toBe(true)
    // The control of the strong case does not look and runs on; the others rest the well for half an hour.
    expect(run.endReason).toBe(severity === 'strong' ? 'unknown' : 'dry')
    const next = watched.truth.runs[watched.truth.runs.indexOf(run) + 1]
    if (severity !== 'strong') expect((next?.start ?? 0) - run.end).toBeGreaterThanOrEqual(28 * 60_000)
  })

  test('lost prime: light from the start, no drop of water', () => {
    const watched = under(site, 'lost-prime', severity)
    const run = firstRun(watched)
    expect(run.deliveredL).toBe(0)
    expect(run.firstWaterAt).toBeNull()
    const share = currentShare(watched, site, run.start + 1_000, run.start + 120_000)
    expect(share).toBeGreaterThan(0.35)
    expect(share).toBeLessThan(0.72)
    expect(watched.truth.marks.some((mark) => mark.what === 'no-water' && mark.at === run.start)).toBe(true)
  })

  test('a locked rotor: 2.5 to 6 times the current, a sagging voltage, no water', () => {
    const watched = under(site, 'locked-rotor', severity)
    const run = firstRun(watched)
    const multiple = run.currentMeanA / usualCurrentA(planOf(site))
    expect(multiple).toBeGreaterThan(2.4)
    expect(multiple).toBeLessThan(6.2)
    expect(run.deliveredL).toBe(0)
    const runs = watched.truth.runs.filter(({ start }) => start >= run.start)
    const lengthS = (run.end - run.start) / 1_000
    if (severity === 'mild') expect(lengthS).toBeGreaterThan(3_600)
    if (severity === 'middle') {
      expect(lengthS).toBe(8)
      expect(runs.length).toBeGreaterThan(100)
      expect(run.endReason).toBe('stalled')
    }
    if (severity === 'strong') {
      expect(lengthS).toBe(4)
      expect(runs).toHaveLength(1)
    }
    expect(watched.truth.marks.some((mark) => mark.what === 'rotor-locked' && mark.at === run.start)).toBe(true)
  })

  test('no start: the control calls, the pump draws nothing, the battery rests', () => {
    const watched = under(site, 'no-start', severity)
    const called = watched.truth.marks.find(({ what, at }) => what === 'called' && at >= START + hours(4))
    expect(called).toBeDefined()
    const from = called?.at ?? Number.NaN
    expect(Math.abs(currentShare(watched, site, from, from + hours(1)))).toBeLessThan(0.05)
    const mended = START + hours(severity === 'mild' ? 16 : 40)
    const runs = watched.truth.runs.filter(({ start }) => start >= from)
    expect(runs.every(({ start }) => start >= mended)).toBe(true)
    expect(runs.length > 0).toBe(severity === 'mild')
  })

  test('no rise: near its usual current, or 1.3 to 1.8 times against a shut valve, and no water to speak of', () => {
    const watched = under(site, 'no-rise', severity)
    const run = firstRun(watched)
    const share = currentShare(watched, site, run.start + 60_000, run.start + 1_800_000)
    if (severity === 'strong') {
      expect(share).toBeGreaterThan(1.3)
      expect(share).toBeLessThan(1.8)
    } else {
      expect(share).toBeGreaterThan(0.85)
      expect(share).toBeLessThan(1.05)
    }
    const litresAMinute = run.deliveredL / ((run.end - run.start) / 60_000)
    expect(litresAMinute).toBeLessThan(0.5)
    expect(watched.truth.marks.some((mark) => mark.what === 'no-water' && mark.at === run.start)).toBe(true)
  })

  test('stuck on: its usual current, past the high mark', () => {
    const watched = under(site, 'stuck-on', severity)
    const run = firstRun(watched)
    const { highMarkM, fullM } = planOf(site).tank
    expect(run.levelEndM).toBeGreaterThan(highMarkM + 0.03)
    expect(currentShare(watched, site, run.start + 60_000, run.end)).toBeGreaterThan(0.95)
    const past = watched.truth.marks.find(({ what }) => what === 'past-high')
    expect(past?.at).toBeGreaterThan(run.start)
    if (severity === 'strong') expect(run.levelEndM).toBeCloseTo(fullM, 2)
    expect(watched.truth.balance.overflowL > 0).toBe(severity !== 'mild')
  })
})
