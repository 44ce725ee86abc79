import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, aSite, bench, running, START, wentDry } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000

const blocked =
  (ratio: number, more: (facts: Facts, at: number) => void = () => undefined) =>
  (facts: Facts, at: number) => {
    running(facts, START)
    const amps = 4.5 * ratio
    Object.assign(facts.pump, { currentA: amps, recentA: amps, runA: amps })
    Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, riseWindowS: 0, arriving: null })
    const s = (at - START) / 1_000
    Object.assign(facts.evidence, {
      raisedSince: START,
      raisedCount: Math.floor(s / 10),
      powerShare: ratio,
      powerShareSd: 0.03,
      riseShare: s >= 180 ? 0.02 : null,
      riseShareSd: s >= 180 ? 0.2 : null,
    })
    more(facts, at)
  }

describe('a pump that pushes against something', () => {
  it('is told within 2 to 5 min, once the level shows that nothing comes', () => {
    const it_ = bench().run(600, blocked(1.5))
    expect(it_.keys()).toEqual(['no-rise:pump'])
    const seconds = it_.secondsTo('no-rise:pump') ?? 0
    expect(seconds).toBeGreaterThanOrEqual(120)
    expect(seconds).toBeLessThanOrEqual(300)
    expect(it_.judge.active(it_.state)[0]?.words.title).toBe('Pump pushes hard but no water arrives')
  })

  it('is told by its watts alone, as probable, where no level can show it', () => {
    const noLevel = (facts: Facts) => void Object.assign(facts.evidence, { riseShare: null, riseShareSd: null })
    const it_ = bench().run(600, blocked(1.5, noLevel))
    expect(it_.secondsTo('no-rise:pump')).toBeGreaterThanOrEqual(240)
    expect(it_.secondsTo('no-rise:pump')).toBeLessThanOrEqual(300)
    expect(it_.judge.active(it_.state)[0]?.words.title).toContain('probably')
    expect(bench().run(600, blocked(1.3, noLevel)).told).toEqual([])
  })

  it('speaks of ice first where a line is at freezing, and of no locked rotor', () => {
    const cold = (facts: Facts) => {
      facts.lines = [aLine('tank outlet', 0.4)]
    }
    const it_ = bench().run(600, blocked(1.5, cold))
    const { words } = it_.judge.active(it_.state)[0] ?? {}
    expect(words?.causes[0]).toContain('Ice in the line')
    expect(JSON.stringify(words)).not.toMatch(/jam|rotor|dry/i)
  })

  it('is none while water is seen to arrive, nor for amperes whose watts are as usual', () => {
    const arrives = (facts: Facts) => void Object.assign(facts.evidence, { riseShare: 0.9, riseShareSd: 0.1 })
    expect(bench().run(900, blocked(1.4, arrives)).told).toEqual([])
    const driver = (facts: Facts) => void Object.assign(facts.evidence, { powerShare: 1.02 })
    expect(bench().run(900, blocked(1.4, driver)).told).toEqual([])
  })
})

const episode = {
  open: true,
  active: false,
  since: START,
  starts: 2,
  rests: 2,
  litresPerStart: { value: 12, sd: 1 },
  litresPerRestH: { value: 36, sd: 3 },
  recoveryLH: { value: 28, sd: 2 },
}

describe('a slow well', () => {
  it('is one message however many runs end dry, and says what a rest is worth once it is known', () => {
    const it_ = bench().run(600, wentDry(START + MIN))
    for (let i = 1; i <= 8; i += 1) {
      const rests = { ...episode, active: i >= 3, rests: i, starts: i }
      it_.run(1_200, (facts, at) => {
        Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: at - 2 * MIN, lastEndA: 2.2 })
        Object.assign(facts.episode, rests)
      })
      it_.run(720, (facts) => {
        running(facts, facts.at - 5 * MIN)
        Object.assign(facts.episode, rests)
      })
    }
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised'])
    const [alarm] = it_.judge.active(it_.state)
    expect(alarm).toMatchObject({ cause: 'rests-slow-well', priority: 'high' })
    expect(alarm?.words.what).toContain('an hour of rest')
    it_.run(1_200, (facts) => Object.assign(facts.pump, { lastEnd: 'full', lastEndAt: facts.at - MIN }))
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('is not told again at a place that is known for it, while its runs are as they always are', () => {
    const it_ = bench()
    for (let i = 1; i <= 4; i += 1) {
      const known = { ...episode, known: true, asUsual: true, active: i >= 3, rests: i }
      it_.run(240, (facts, at) => {
        wentDry(at - 2 * MIN)(facts, at)
        Object.assign(facts.pump, { since: at - 10 * MIN, ranS: 600 })
        Object.assign(facts.episode, known)
      })
      it_.run(1_200, (facts, at) => {
        Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: at - MIN, lastEndA: 2.2 })
        Object.assign(facts.episode, known)
      })
    }
    expect(it_.told).toEqual([])
  })

  it('is told there for a run that brings hardly anything, and for rests that are worth less', () => {
    const odd = bench().run(600, (facts, at) => {
      wentDry(START + MIN)(facts, at)
      Object.assign(facts.episode, { ...episode, known: true, asUsual: false })
    })
    expect(odd.keys()).toEqual(['dry-well:pump'])
    const less = bench().run(600, (facts) => {
      Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2.2 })
      const usualLPerRestH = { value: 60, sd: 3, fills: 6 }
      Object.assign(facts.episode, {
        ...episode,
        active: true,
        known: true,
        asUsual: true,
        fallenTo: 0.6,
        usualLPerRestH,
      })
    })
    expect(less.judge.active(less.state)[0]?.cause).toBe('recovers-less')
  })

  it('gives the control an hour and more before its rest counts as a failure to start', () => {
    const it_ = bench().run(3_000, (facts) => {
      facts.water.calledSince = START
      Object.assign(facts.pump, {
        lastEnd: 'dry',
        lastEndAt: START - HOUR,
        lastEndA: 4.4,
        restingUntil: START - 30 * MIN,
      })
      Object.assign(facts.episode, { ...episode, known: true, asUsual: true, mayRestUntil: START + HOUR })
    })
    expect(it_.keys()).not.toContain('pump-no-start:pump')
  })
})

describe('a control that chatters', () => {
  it('is told at once when it has been seen for its three minutes, in words of its own', () => {
    const it_ = bench().run(300, (facts) => {
      running(facts, START - 4 * MIN)
      facts.episode.chatterSince = START - 3 * MIN
      facts.suspects = [{ key: 'pump-current', kind: 'control-chatter', since: START - 3 * MIN, figure: 8 }]
    })
    expect(it_.keys()).toEqual(['sensor-suspect:pump-current'])
    expect(it_.secondsTo('sensor-suspect:pump-current')).toBeLessThanOrEqual(30)
    expect(it_.judge.active(it_.state)[0]?.words.title).toBe('Pump is switched on and off again and again')
  })

  it('keeps the delay that the owner has set', () => {
    const chatters = (facts: Facts) => {
      facts.suspects = [{ key: 'pump-current', kind: 'control-chatter', since: START, figure: 8 }]
    }
    const it_ = bench(aSite({ 'sensor-suspect': { onDelayS: 900 } })).run(1_200, chatters)
    expect(it_.secondsTo('sensor-suspect:pump-current')).toBeGreaterThanOrEqual(900)
  })
})
