/** A pump or pipe that has aged: water still comes, but less or later. */
import { describe, expect, test } from 'vitest'
import type { TrueRun } from '../../simulators/truth.js'
import { cases, currentShare, firstRun, under } from './pump-watch.js'
import { watch } from './watch.js'

const healthy = {
  juniper: watch({ site: 'juniper', days: 0.8, people: 8 }),
  fern: watch({ site: 'fern', days: 0.8, people: 8 }),
}

describe.each(cases)('at %s, %s', (site, severity) => {
  test('a fill that is too long: water still arrives, at 25 to 60 % of its rate', () => {
    const watched = under(site, 'fill-long', severity)
    const run = firstRun(watched)
    const share = run.deliveredL / ((run.end - run.start) / 60_000) / 4
    expect(share).toBeGreaterThan(0.25)
    expect(share).toBeLessThan(0.6)
    expect(currentShare(watched, site, run.start + 60_000, run.end)).toBeGreaterThan(0.8)
  })

  test('a pipe that drains: light for minutes at each start, then water at the usual rate', () => {
    const watched = under(site, 'pipe-drains', severity)
    const run = firstRun(watched)
    const lagS = ((run.firstWaterAt ?? Number.NaN) - run.start) / 1_000
    const times = { mild: 3, middle: 5, strong: site === 'juniper' ? 8 : 6.5 }[severity]
    const usualS = site === 'juniper' ? 27 : 16
    expect(lagS).toBeGreaterThan(0.6 * times * usualS)
    expect(lagS).toBeLessThan(1.2 * times * usualS)
    const early = currentShare(watched, site, run.start + 1_000, run.start + 25_000)
    const late = currentShare(watched, site, run.end - 600_000, run.end)
    expect(early).toBeLessThan(late - 0.05)
    expect(late).toBeGreaterThan(0.95)
    expect(run.endReason).not.toBe('dry')
  })

  test('a pump that wears gives less at much the same current', () => {
    const watched = under(site, 'yield-falling', severity)
    const flow = (run: TrueRun) => run.pumpedL / (run.end - run.start)
    const share = flow(firstRun(watched)) / flow(firstRun(healthy[site]))
    const expected = { mild: [0.88, 0.92], middle: [0.97, 1.01], strong: [0.72, 0.79] } as const
    expect(share).toBeGreaterThan(expected[severity][0])
    expect(share).toBeLessThan(expected[severity][1])
  })
})
