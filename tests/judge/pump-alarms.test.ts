import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aSite, bench, running, START, wentDry } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000

describe('dry-well', () => {
  it('is told within 5 min of the water stopping, before the level can show it', () => {
    const it_ = bench().run(600, wentDry(START + MIN))
    expect(it_.keys()).toEqual(['dry-well:pump'])
    const seconds = (it_.secondsTo('dry-well:pump') ?? Number.POSITIVE_INFINITY) - 60
    expect(seconds).toBeGreaterThanOrEqual(60)
    expect(seconds).toBeLessThanOrEqual(300)
  })

  it('is not told for a current that falls no further than its band, nor for a short dip', () => {
    expect(bench().run(900, wentDry(START, 3.7)).told).toEqual([])
    const dips = (facts: Facts, at: number) => {
      running(facts, START - HOUR)
      if (Math.floor((at - START) / MIN) % 2 === 0) return
      const dip = START + Math.floor((at - START) / MIN) * MIN
      Object.assign(facts.pump, { currentA: 2.4, recentA: 2.4, lightSince: dip, lightCount: 6 })
    }
    expect(bench().run(3_600, dips).told).toEqual([])
  })

  it('waits at a start for a pipe that drained to fill, and is told within 5 min of a start that stays light', () => {
    const lightStart = (facts: Facts) => {
      running(facts, START)
      Object.assign(facts.pump, {
        currentA: 1.8,
        recentA: 1.8,
        runA: null,
        lightSince: START + 45_000,
        lightCount: 9,
        lightFromStart: true,
      })
      Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, arriving: null, riseWindowS: 0 })
    }
    expect(
      bench()
        .run(210, lightStart)
        .run(300, (facts) => void running(facts, START)).told,
    ).toEqual([])
    const it_ = bench().run(600, lightStart)
    expect(it_.keys()).toEqual(['dry-well:pump'])
    expect((it_.secondsTo('dry-well:pump') ?? 999) + 25).toBeLessThanOrEqual(300)
  })

  it('is not told while water is measured to arrive: then the current sensor is wrong', () => {
    const it_ = bench().run(1_800, (facts, at) => {
      wentDry(START + MIN)(facts, at)
      Object.assign(facts.water, { riseWindowS: 30, seenRiseL: 2, expectedRiseL: 2 })
      if (at < START + 3 * MIN) facts.pump.lightSince = null
    })
    expect(it_.told).toEqual([])
  })

  it('is told when the control of the pump has stopped the run as dry, and stands through its rest', () => {
    const it_ = bench().run(2_400, (facts) => {
      Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2.1, restingUntil: START + 30 * MIN })
    })
    expect(it_.told).toHaveLength(1)
    expect(it_.secondsTo('dry-well:pump')).toBeLessThanOrEqual(120)
    expect(it_.judge.active(it_.state).map(({ cause, state }) => [cause, state])).toEqual([
      ['stopped-by-control', 'unacknowledged'],
    ])
  })

  it('is not told for the end of a run that drew its usual current to the last', () => {
    for (const lastEnd of ['dry', 'stalled'] as const) {
      const it_ = bench().run(600, (facts) => Object.assign(facts.pump, { lastEnd, lastEndAt: START, lastEndA: 4.4 }))
      expect(it_.told).toEqual([])
    }
  })

  it('ends when a run is seen to bring water again, and says how long it lasted', () => {
    const it_ = bench().run(600, wentDry(START + MIN))
    it_.run(1_800, (facts) => running(facts, START + 10 * MIN))
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
    const cleared = it_.outcomes.flatMap(({ notices }) => notices).at(-1)
    expect(cleared?.alarm.since).toBe(START + MIN)
    expect(cleared?.alarm.cleared).toBeGreaterThan(START + 10 * MIN)
  })

  it('holds while learning only for a fall far below the same run, with the water seen to stop', () => {
    const learning = (amps: number, noRise: boolean) => (facts: Facts, at: number) => {
      wentDry(START + MIN, amps)(facts, at)
      facts.learning = true
      facts.water.noRiseSince = noRise ? START + MIN : null
    }
    expect(bench().run(900, learning(3.2, true)).told).toEqual([])
    expect(bench().run(900, learning(2.4, false)).told).toEqual([])
    expect(bench().run(900, learning(2.4, true)).keys()).toEqual(['dry-well:pump'])
  })
})

describe('pump-stalled', () => {
  const heavy = (amps: number, count: (at: number) => number) => (facts: Facts, at: number) => {
    running(facts, START)
    Object.assign(facts.pump, { currentA: amps, heavySince: START, heavyCount: count(at), settled: false })
    Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, riseWindowS: 0 })
  }

  it('is told within 60 s of the jam', () => {
    const it_ = bench().run(
      120,
      heavy(13, (at) => Math.floor((at - START) / 10_000) + 1),
    )
    expect(it_.keys()).toEqual(['pump-stalled:pump'])
    // A look is judged some 10 s after its event time.
    expect((it_.secondsTo('pump-stalled:pump') ?? 99) + 10).toBeLessThanOrEqual(60)
  })

  it('is not told for one reading of inrush, nor for a current below twice the usual', () => {
    expect(
      bench().run(
        120,
        heavy(13, () => 1),
      ).told,
    ).toEqual([])
    expect(
      bench()
        .run(
          120,
          heavy(8.9, () => 12),
        )
        .keys(),
    ).not.toContain('pump-stalled:pump')
  })

  it('is told for a protector that trips and tries again, from the second try; a control that chatters is none', () => {
    const tries = (n: number) => (facts: Facts) => {
      Object.assign(facts.pump, { heavyTriesIn10Min: n, lastEnd: 'stalled', lastEndAt: START - 20 * MIN, lastEndA: 14 })
    }
    expect(bench().run(300, tries(1)).told).toEqual([])
    expect(bench().run(300, tries(2)).keys()).toEqual(['pump-stalled:pump'])
    const chatter = (facts: Facts) => {
      tries(2)(facts)
      facts.pump.lastEnd = null
      facts.pump.startsIn10Min = 9
    }
    expect(bench().run(300, chatter).told).toEqual([])
  })

  it('stands until a run is seen to be normal', () => {
    const it_ = bench().run(
      60,
      heavy(13, () => 9),
    )
    it_.run(3_600, (facts) => Object.assign(facts.pump, { lastEnd: 'stalled', lastEndAt: START + MIN, lastEndA: 13 }))
    expect(it_.keys('cleared')).toEqual([])
    it_.run(900, (facts) => running(facts, START + HOUR))
    expect(it_.keys('cleared')).toEqual(['pump-stalled:pump'])
  })
})

describe('pump-no-start', () => {
  const called =
    (more: (facts: Facts) => void = () => undefined) =>
    (facts: Facts) => {
      facts.water.calledSince = START
      more(facts)
    }

  it('is told between 12 and 15 min of the call', () => {
    const it_ = bench().run(1_200, called())
    expect(it_.keys()).toEqual(['pump-no-start:pump'])
    expect(it_.secondsTo('pump-no-start:pump')).toBeGreaterThanOrEqual(720)
    expect(it_.secondsTo('pump-no-start:pump')).toBeLessThanOrEqual(900)
  })

  it.each([
    ['the battery is low at rest', (facts: Facts) => Object.assign(facts.battery, { lowSince: START, recentV: 25.2 })],
    ['the battery is not fit', (facts: Facts) => Object.assign(facts.battery, { recentV: 23.9 })],
    ['the battery is not known', (facts: Facts) => Object.assign(facts.battery, { recentV: null, voltageV: null })],
    ['the well is being rested', (facts: Facts) => Object.assign(facts.pump, { restingUntil: START + HOUR })],
    ['the current is not known', (facts: Facts) => Object.assign(facts.pump, { known: false })],
    [
      'somebody stopped the pump',
      (facts: Facts) => Object.assign(facts.pump, { lastEnd: 'manual', lastEndAt: START + 1 }),
    ],
    ['the level is not known', (facts: Facts) => Object.assign(facts.water, { levelM: null })],
  ])('is not told when %s', (_, more) => {
    const it_ = bench().run(1_800, called(more))
    expect(it_.keys()).not.toContain('pump-no-start:pump')
    expect(it_.judge.active(it_.state).map(({ id }) => id)).not.toContain('pump-no-start')
  })

  it('counts from the end of the rest of a well that ran dry', () => {
    const it_ = bench().run(
      3_600,
      called((facts) => Object.assign(facts.pump, { restingUntil: START + 30 * MIN, lastEnd: 'full' })),
    )
    expect(it_.secondsTo('pump-no-start:pump')).toBeGreaterThanOrEqual(1_800 + 720)
    expect(it_.secondsTo('pump-no-start:pump')).toBeLessThanOrEqual(1_800 + 900)
  })
})

describe('no-rise', () => {
  const noWater = (amps: number) => (facts: Facts, at: number) => {
    running(facts, START - 5 * MIN)
    Object.assign(facts.pump, { currentA: amps, recentA: amps })
    Object.assign(facts.water, { noRiseSince: START, seenRiseL: 0.2, expectedRiseL: (4 * (at - START)) / MIN })
  }

  it('is told within 10 min, as water that goes elsewhere', () => {
    const it_ = bench().run(900, noWater(4.5))
    expect(it_.keys()).toEqual(['no-rise:pump'])
    expect(it_.secondsTo('no-rise:pump')).toBeLessThanOrEqual(585)
    expect(it_.judge.active(it_.state)[0]?.cause).toBe('goes-elsewhere')
  })

  it('tells a pump that pushes against something from 1.25 times its usual current', () => {
    expect(
      bench()
        .run(900, noWater(4.5 * 1.24))
        .outcomes.flatMap((o) => o.notices)[0]?.alarm.cause,
    ).toBe('goes-elsewhere')
    expect(
      bench()
        .run(900, noWater(4.5 * 1.26))
        .outcomes.flatMap((o) => o.notices)[0]?.alarm.cause,
    ).toBe('pushes-against')
  })

  it('leaves a light current to the dry well and a heavy one to the jam', () => {
    expect(
      bench()
        .run(1_800, noWater(4.5 * 0.74))
        .keys(),
    ).toEqual([])
    expect(
      bench()
        .run(1_800, noWater(4.5 * 2.01))
        .keys(),
    ).toEqual([])
  })

  it('waits in a fill that is told as long: a draw as large as the flow looks the same for a while', () => {
    const long = (facts: Facts) => void running(facts, START - 2.1 * HOUR)
    const still = (facts: Facts) => {
      long(facts)
      Object.assign(facts.water, { noRiseSince: START + 10 * MIN, arriving: false })
    }
    const it_ = bench().run(600, long).run(1_740, still)
    expect(it_.keys()).toEqual(['fill-long:pump'])
    it_.run(120, still)
    expect(it_.keys()).toEqual(['fill-long:pump', 'no-rise:pump'])
  })

  it('is no story of a tank at its high mark, which cannot rise', () => {
    const it_ = bench().run(1_800, (facts, at) => {
      noWater(4.5)(facts, at)
      facts.water.atHighSince = START
    })
    expect(it_.judge.active(it_.state).map(({ id }) => id)).toEqual(['overfill'])
  })

  it('is quiet while the site is being learned', () => {
    const it_ = bench().run(1_800, (facts, at) => {
      noWater(4.5)(facts, at)
      facts.learning = true
    })
    expect(it_.told).toEqual([])
  })
})

describe('fill-long', () => {
  const filling =
    (since: number, more: (facts: Facts) => void = () => undefined) =>
    (facts: Facts) => {
      running(facts, since)
      more(facts)
    }

  it('is told when twice the expected time and 10 min are passed', () => {
    const site = { ...aSite(), pump: { ...aSite().pump, longestFillS: 99_999 } }
    const it_ = bench(site).run(3_600, filling(START - HOUR - 50 * MIN))
    expect(it_.keys()).toEqual(['fill-long:pump'])
    expect(it_.secondsTo('fill-long:pump')).toBeGreaterThanOrEqual(20 * 60)
    expect(it_.secondsTo('fill-long:pump')).toBeLessThanOrEqual(20 * 60 + 60)
  })

  it('is told when the longest fill is passed, while learning too', () => {
    const it_ = bench().run(
      900,
      filling(START - 7_100_000, (facts) => Object.assign(facts, { learning: true })),
    )
    expect(it_.keys()).toEqual(['fill-long:pump'])
    expect(it_.secondsTo('fill-long:pump')).toBeLessThanOrEqual(160)
    expect(it_.judge.active(it_.state)[0]?.cause).toBe('past-longest')
  })

  it('knows no usual length while learning', () => {
    const site = { ...aSite(), pump: { ...aSite().pump, longestFillS: 99_999 } }
    const it_ = bench(site).run(
      3_600,
      filling(START - 3 * HOUR, (facts) => Object.assign(facts, { learning: true })),
    )
    expect(it_.told).toEqual([])
  })

  it('is critical when a pump starts in a place that is winterized', () => {
    const it_ = bench()
    it_.modes = { ...it_.modes, winterized: true }
    it_.run(180, filling(START))
    expect(it_.keys()).toEqual(['fill-long:pump'])
    expect(it_.secondsTo('fill-long:pump')).toBeLessThanOrEqual(60)
    expect(it_.judge.active(it_.state)[0]).toMatchObject({ priority: 'critical', cause: 'runs-while-winterized' })
  })
})

describe('a fill that has become long', () => {
  const long = (rateShare: number | null) => (facts: Facts, at: number) => {
    running(facts, START - 80 * MIN)
    facts.pump.ranS = (at - START) / 1_000 + 80 * 60
    Object.assign(facts.water, { expectedFillS: 3_600, rateShare, arriving: true, noRiseSince: null })
  }

  it('is no fault while the pump itself delivers as usual, however much people draw', () => {
    expect(bench().run(600, long(0.95)).told).toEqual([])
  })

  it('is told at 1.3 times its time and 10 min when the pump delivers too little', () => {
    expect(bench().run(600, long(0.45)).keys()).toEqual(['fill-long:pump'])
  })
})

describe('a run that its control ended as dry while the site is being learned', () => {
  const ended = (share: number) => (facts: Facts) => {
    facts.learning = true
    const usual = facts.pump.usualA?.value ?? 0
    Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START - MIN, lastEndA: share * usual })
  }

  it('is told when its current had fallen far below the usual', () => {
    expect(bench().run(300, ended(0.5)).keys()).toEqual(['dry-well:pump'])
  })

  it('is not told for a current that a pipe or a battery may explain', () => {
    expect(bench().run(300, ended(0.75)).told).toEqual([])
  })
})
