import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, bench, running, START } from './facts.js'

const HOUR = 3_600_000

describe('overfill', () => {
  it('is told within 3 min of the high mark, but not for the seconds in which the control stops the pump', () => {
    const stuck = (facts: Facts) => {
      running(facts, START - HOUR)
      facts.water.atHighSince = START
    }
    const it_ = bench().run(300, stuck)
    expect(it_.keys()).toEqual(['overfill:tank'])
    expect(it_.secondsTo('overfill:tank')).toBeGreaterThanOrEqual(90)
    expect(it_.secondsTo('overfill:tank')).toBeLessThanOrEqual(170)
    expect(bench().run(75, stuck).told).toEqual([])
  })

  it('is told for a level past the overflow even when the pump is not known', () => {
    const it_ = bench().run(300, (facts) => {
      facts.pump.known = false
      facts.water.pastFullSince = START
    })
    expect(it_.keys()).toEqual(['overfill:tank'])
  })

  it('does not trust a wet high probe over a dry low one', () => {
    const it_ = bench().run(500, (facts) => {
      running(facts, START - HOUR)
      facts.water.atHighSince = START
      facts.suspects = [{ key: 'tank-probe-high', kind: 'probes-contradict', since: START, figure: 1 }]
    })
    expect(it_.told).toEqual([])
  })
})

describe('tank-low', () => {
  it('is told within 2 min below the reserve, and ends above its deadband', () => {
    const at = (volumeL: number) => (facts: Facts) => Object.assign(facts.water, { volumeL })
    const it_ = bench().run(300, at(400))
    expect(it_.told).toEqual([])
    it_.run(120, at(399.9))
    expect(it_.keys()).toEqual(['tank-low:tank'])
    expect(it_.secondsTo('tank-low:tank')).toBeLessThanOrEqual(300 + 105)
    it_.run(3_600, at(419))
    expect(it_.keys('cleared')).toEqual([])
    it_.run(900, at(421))
    expect(it_.keys('cleared')).toEqual(['tank-low:tank'])
  })

  it('says nothing of a tank that is not measured', () => {
    const it_ = bench().run(600, (facts) => Object.assign(facts.water, { volumeL: null, levelM: null }))
    expect(it_.told).toEqual([])
  })
})

describe('battery-low', () => {
  it('is told within 2 min of a voltage that stays low, never for the dip of a start', () => {
    const low = (facts: Facts) => Object.assign(facts.battery, { recentV: 25.1, voltageV: 25.1, lowSince: START })
    const it_ = bench().run(180, low)
    expect(it_.keys()).toEqual(['battery-low:battery'])
    expect(it_.secondsTo('battery-low:battery')).toBeLessThanOrEqual(110)
    expect(bench().run(45, low).run(600).told).toEqual([])
  })

  it('is told when the cut-off is near, and not before', () => {
    const near = (hours: number) => (facts: Facts) =>
      Object.assign(facts.battery, { hoursToCutOff: hours, fallVH: 0.5 })
    expect(bench().run(600, near(3.1)).told).toEqual([])
    expect(bench().run(600, near(2.9)).keys()).toEqual(['battery-low:battery'])
  })

  it('tells a cut-off that stopped the pump, though the voltage has jumped back', () => {
    const it_ = bench().run(600, (facts) => {
      Object.assign(facts.pump, { lastEnd: 'power-lost', lastEndAt: START })
      Object.assign(facts.battery, { lowest30MinV: 22.4, recentV: 25.9 })
    })
    expect(it_.keys()).toEqual(['battery-low:battery'])
    expect(it_.judge.active(it_.state)[0]?.words.title).toContain('cut-off')
  })
})

it('a pump that lost its power at a healthy voltage is no fault of the battery', () => {
  const it_ = bench().run(600, (facts) => {
    Object.assign(facts.pump, { lastEnd: 'power-lost', lastEndAt: START })
    facts.battery.lowest30MinV = 24.6
  })
  expect(it_.told).toEqual([])
})

describe('freezing', () => {
  const frozen = (facts: Facts) => {
    facts.lines = [{ ...aLine('tank outlet', -0.5), frozenSince: START }, aLine('kitchen', 0.6)]
  }

  it('is told within 5 min, critical, and names the other cold lines', () => {
    const it_ = bench().run(300, frozen)
    expect(it_.keys()).toEqual(['freezing:tank outlet'])
    expect(it_.secondsTo('freezing:tank outlet')).toBeLessThanOrEqual(275)
    const [alarm] = it_.judge.active(it_.state)
    expect(alarm?.priority).toBe('critical')
    expect(alarm?.words.what).toContain('kitchen 33 °F')
  })

  it('neither raises nor ends on a lost thermometer', () => {
    const it_ = bench().run(300, frozen)
    it_.run(7_200, (facts) => Object.assign(facts, { lines: [aLine('tank outlet', null)] }))
    expect(it_.told).toHaveLength(1)
    expect(it_.judge.active(it_.state)).toHaveLength(1)
  })

  it('stays latched after the thaw until somebody has seen it, and sends the all-clear meanwhile', () => {
    const it_ = bench().run(300, frozen).run(3_600)
    expect(it_.keys('cleared')).toEqual(['freezing:tank outlet'])
    expect(it_.judge.active(it_.state)[0]?.state).toBe('latched')
    it_.judge.acknowledge(it_.state, 'freezing:tank outlet', 'ops', START + HOUR)
    expect(it_.judge.active(it_.state)).toEqual([])
  })
})
