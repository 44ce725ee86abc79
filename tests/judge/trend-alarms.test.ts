/** Yield and energy that drift: when they are told, which tells the story, and when it is over. */
import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { emptyTrendFacts } from '../../src/model/facts-trend.js'
import { aSite, bench, LOOK_MS, START } from './facts.js'
import { type Moved, trendOf } from './trend.js'

const DAY_S = 86_400

const moved =
  (set: Partial<Moved>) =>
  (facts: Facts): void => {
    facts.trend = trendOf({
      yieldShare: null,
      energyShare: null,
      currentShare: 0,
      since: START - 3 * 86_400_000,
      ...set,
    })
  }
const worn = moved({ yieldShare: -0.12, energyShare: 0.13, currentShare: -0.04 })

describe('a worn pump', () => {
  it('is one story: the yield tells it, the energy stands beneath', () => {
    const it_ = bench().run(600, worn)
    expect(it_.keys()).toEqual(['yield-falling:pump'])
    const energy = it_.judge.active(it_.state).find((alarm) => alarm.id === 'energy-rising')
    expect(energy?.explainedBy).toBe('yield-falling:pump')
  })

  it('is told once, however long it lasts', () => {
    const it_ = bench()
    for (let day = 0; day < 10; day += 1) it_.run(60, worn).skip(DAY_S * 1000)
    expect(it_.told.map((one) => one.reason)).toEqual(['raised'])
  })

  it('is low, and dated to the beginning of the change, not to the look', () => {
    const it_ = bench().run(60, worn)
    const [alarm] = it_.judge.active(it_.state)
    expect([alarm?.priority, alarm?.since, alarm?.raised]).toEqual(['low', START - 3 * 86_400_000, START + LOOK_MS])
  })

  it('is over when the yield is back, or when a new baseline begins', () => {
    for (const after of [moved({}), (facts: Facts) => void Object.assign(facts, { trend: emptyTrendFacts() })]) {
      const it_ = bench().run(60, worn).run(1_800, after)
      expect(it_.keys('cleared')).toEqual(['yield-falling:pump'])
    }
  })

  it('does not come and go about its limit', () => {
    const it_ = bench()
    for (const share of [-0.06, -0.04, -0.055, -0.03, -0.06]) {
      it_.run(900, (facts) => {
        moved({ yieldShare: -0.06 })(facts)
        facts.trend = { ...facts.trend, yield: { ...facts.trend.yield, share } }
      })
    }
    expect(it_.told.map((one) => one.reason)).toEqual(['raised'])
  })
})

describe('an energy that has risen', () => {
  it('waits for the yield to tell the story where less water comes', () => {
    const soon = moved({ yieldShare: -0.045, energyShare: 0.09 })
    const few = (facts: Facts): void => {
      soon(facts)
      facts.trend = { ...facts.trend, energy: { ...facts.trend.energy, points: 3 } }
    }
    expect(bench().run(600, few).keys()).toEqual([])
    expect(bench().run(600, soon).keys()).toEqual(['energy-rising:pump'])
  })

  it('with more current and as much water points at the well', () => {
    const it_ = bench().run(60, moved({ yieldShare: 0, energyShare: 0.14, currentShare: 0.13 }))
    const [alarm] = it_.judge.active(it_.state)
    expect([alarm?.id, alarm?.cause]).toEqual(['energy-rising', 'more-current'])
    expect(alarm?.words.causes[0]).toMatch(/well stands lower/)
  })
})

describe('what tells causes apart', () => {
  it.each([
    [-0.05, 0, 'less-current', /worn|clogged/],
    [0.005, 0, 'same-current', /lost after the pump/],
    [0.06, 0, 'more-current', /pushes against/],
    [0, -0.07, 'low-voltage', /battery/],
  ])('current %s, voltage %s: %s', (currentShare, voltageShare, cause, first) => {
    const it_ = bench().run(60, moved({ yieldShare: -0.12, currentShare, voltageShare }))
    const [alarm] = it_.judge.active(it_.state)
    expect(alarm?.cause).toBe(cause)
    expect(alarm?.words.causes[0]).toMatch(first)
  })

  it('with probes only, more draw during the fills is named as looking the same', () => {
    const it_ = bench().run(60, moved({ yieldShare: -0.12, sight: 'quiet-fills' }))
    const words = it_.judge.active(it_.state)[0]?.words
    expect(words?.causes.at(-1)).toMatch(/draw more/)
    expect(words?.what).toMatch(/With probes only/)
  })
})

describe('quiet', () => {
  it('while learning, and while the place is winterized', () => {
    const learning = (facts: Facts): void => {
      worn(facts)
      facts.learning = true
    }
    expect(bench().run(600, learning).keys()).toEqual([])
    const closed = bench()
    closed.modes = { ...closed.modes, winterized: true }
    expect(closed.run(600, worn).keys()).toEqual([])
  })

  it('below what the owner wants to hear of', () => {
    const site = aSite({ 'yield-falling': { numbers: { least: 0.15 } }, 'energy-rising': { numbers: { least: 0.15 } } })
    expect(bench(site).run(600, worn).keys()).toEqual([])
  })

  it('when it has risen: more water for less is no fault', () => {
    const better = moved({ yieldShare: 0.15, energyShare: -0.13 })
    expect(bench().run(600, better).keys()).toEqual([])
  })

  it('beneath the alarm that explains it: a fill that is told as long', () => {
    const it_ = bench().run(600, (facts) => {
      facts.suspects = [{ key: 'tank-level', kind: 'stuck', since: START, figure: 60 }]
    })
    it_.run(1_200, (facts) => {
      facts.suspects = [{ key: 'tank-level', kind: 'stuck', since: START, figure: 60 }]
      worn(facts)
    })
    expect(it_.keys()).toEqual(['sensor-suspect:tank-level'])
  })
})
