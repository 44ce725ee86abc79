/** Two things at once: each is told once, by its own name, and nothing is told for what the other hid. */
import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, bench, running, START, wentDry } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000
const stuckLevel = (facts: Facts) => {
  facts.suspects = [{ key: 'tank-level', kind: 'stuck', since: START, figure: 60 }]
}
const stuckOn = (facts: Facts) => {
  running(facts, START - 1.5 * HOUR)
  facts.water.atHighSince = START
}
const silentFrom = (facts: Facts, from: number) => {
  facts.boards = facts.boards.map((board) => ({ ...board, lastHeard: from }))
  facts.lastHeard = from
  Object.assign(facts.battery, { recentV: null, voltageV: null, lowSince: null })
  Object.assign(facts.water, { levelM: null, volumeL: null })
  facts.pump.known = false
}

describe('two faults at once', () => {
  it('a cut-off explains a silence; a silence without one is the link or the power, as the voltage says', () => {
    const cutOff = bench().run(600, (facts) => void Object.assign(facts.battery, { lowSince: START, recentV: 25 }))
    cutOff.run(2 * 3_600, (facts) => {
      silentFrom(facts, START + 10 * MIN)
      facts.battery.lowest30MinV = 21
    })
    expect(cutOff.keys()).toEqual(['battery-low:battery'])
    const link = bench().run(2 * 3_600, (facts) => silentFrom(facts, START))
    expect(link.keys()).toEqual(['site-silent:site'])
    expect(link.judge.active(link.state)[0]?.cause).toBe('link-or-power')
  })

  it('a dry well beside a level that stands still is the dry well, the sensor beneath it', () => {
    const it_ = bench().run(3_000, (facts, at) => {
      wentDry(START + MIN)(facts, at)
      stuckLevel(facts)
    })
    expect(it_.keys()).toEqual(['dry-well:pump'])
    const sensor = it_.judge.active(it_.state).find(({ id }) => id === 'sensor-suspect')
    expect(sensor?.explainedBy).toBe('dry-well:pump')
  })

  it('a frost that is judged from a backlog raises nothing for hours long past, and the present frost is one message', () => {
    const frozen = (facts: Facts) => {
      facts.lines = [{ ...aLine('tank outlet', -2), frozenSince: facts.at - 5 * MIN }]
    }
    const it_ = bench()
    it_.lookBehind(5 * HOUR, frozen)
    expect(it_.told).toEqual([])
    it_.run(600, frozen)
    expect(it_.keys()).toEqual(['freezing:tank outlet'])
  })

  it('a welded relay while no way of telling works: both stand, neither hides the other', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, tellingFailingSince: START }
    it_.run(900, stuckOn)
    expect(it_.keys().sort()).toEqual(['overfill:tank', 'telling-failing:telling'])
  })

  it('guests and boards that begin anew are no fault of the water', () => {
    const it_ = bench().run(4 * 3_600, (facts, at) => {
      running(facts, START - 20 * MIN)
      facts.pump.ranS = (at - START) / 1_000 + 1_200
      facts.occupied = true
      Object.assign(facts.water, { rateShare: 0.98, expectedFillS: 3_600 })
      if ((at / MIN) % 30 < 2) facts.pump.known = false
      if (at - START > 100 * MIN)
        Object.assign(facts.pump, { running: false, since: null, lastEnd: 'full', lastEndAt: at })
    })
    expect(it_.told).toEqual([])
  })

  it('probes that contradict each other are told though no-rise stands: they prove that water came', () => {
    const it_ = bench().run(900, (facts) => {
      running(facts, START - HOUR)
      Object.assign(facts.water, { noRiseSince: START - 20 * MIN, arriving: false })
    })
    expect(it_.keys()).toEqual(['no-rise:pump'])
    it_.run(900, (facts) => {
      running(facts, START - HOUR)
      Object.assign(facts.water, { noRiseSince: null, arriving: null })
      facts.suspects = [{ key: 'tank-probe-low', kind: 'probes-contradict', since: START + 15 * MIN, figure: 3 }]
    })
    expect(it_.keys()).toContain('sensor-suspect:tank-probe-low')
  })

  it('a chattering control explains the long fill that it makes, and nothing else is made of its stop', () => {
    const it_ = bench().run(3_000, (facts) => {
      running(facts, START - 1.9 * HOUR)
      facts.episode.chatterSince = START
      facts.water.atHighSince = START + 20 * MIN
      Object.assign(facts.water, { rateShare: 0.5, expectedFillS: 2_400, noRiseSince: null })
      facts.suspects = [{ key: 'pump-current', kind: 'control-chatter', since: START, figure: 8 }]
    })
    const standing = it_.judge.active(it_.state).map(({ key, explainedBy }) => [key, explainedBy])
    expect(standing).toContainEqual(['fill-long:pump', 'sensor-suspect:pump-current'])
    expect(it_.keys()).not.toContain('overfill:tank')
  })
})
