import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, bench, running, START, wentDry } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000

it('an ordinary fill, from the call to the full tank, is told to nobody', () => {
  const it_ = bench().run(7_200, (facts, at) => {
    if (at < START + 5 * MIN) facts.water.calledSince = START
    else if (at < START + 65 * MIN) running(facts, START + 5 * MIN)
    else Object.assign(facts.pump, { lastEnd: 'full', lastEndAt: START + 65 * MIN })
  })
  expect(it_.told).toEqual([])
  expect(it_.state.entries).toEqual([])
})

describe('an input that goes stale neither ends nor repeats an alarm', () => {
  const dead = (facts: Facts) => {
    Object.assign(facts.pump, { known: false, running: false, currentA: null, recentA: null })
    Object.assign(facts.water, { levelM: null, volumeL: null })
    Object.assign(facts.battery, { voltageV: null, recentV: null, lowest30MinV: null })
    facts.lines = facts.lines.map((line) => ({ ...line, temperatureC: null, frozenSince: null }))
  }
  it.each<[string, (facts: Facts, at: number) => void]>([
    ['dry-well:pump', wentDry(START)],
    [
      'pump-stalled:pump',
      (facts) =>
        Object.assign(running(facts, START).pump, { currentA: 14, heavySince: START, heavyCount: 9, settled: false }),
    ],
    [
      'no-rise:pump',
      (facts) => Object.assign(running(facts, START - HOUR).water, { noRiseSince: START, arriving: false }),
    ],
    ['fill-long:pump', (facts) => running(facts, START - 2.1 * HOUR)],
    ['overfill:tank', (facts) => Object.assign(running(facts, START - HOUR).water, { atHighSince: START })],
    ['tank-low:tank', (facts) => Object.assign(facts.water, { volumeL: 300 })],
    ['battery-low:battery', (facts) => Object.assign(facts.battery, { lowSince: START, recentV: 25 })],
    [
      'freezing:tank outlet',
      (facts) => Object.assign(facts, { lines: [{ ...aLine('tank outlet', -1), frozenSince: START }] }),
    ],
  ])('%s', (key, bend) => {
    const it_ = bench().run(900, bend)
    expect(it_.keys()).toEqual([key])
    it_.run(6 * 3_600, dead)
    expect(it_.told).toHaveLength(1)
    expect(it_.judge.active(it_.state).map((alarm) => [alarm.key, alarm.state])).toEqual([[key, 'unacknowledged']])
  })

  it('nor does a pump at rest prove that it is free again', () => {
    const it_ = bench().run(120, (facts) =>
      Object.assign(running(facts, START).pump, { currentA: 14, heavySince: START, heavyCount: 9, settled: false }),
    )
    it_.run(7_200, (facts) => Object.assign(facts.pump, { lastEnd: 'manual', lastEndAt: START + 2 * MIN }))
    expect(it_.keys('cleared')).toEqual([])
  })
})
