import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, aSite, bench, LOOK_MS, running, START } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000

/** The pump has run for an hour; at `stop` the water stopped and the current fell. */
function wentDry(stop: number, amps = 2.4) {
  return (facts: Facts, at: number) => {
    running(facts, START - HOUR)
    if (at < stop) return
    const light = at - stop
    Object.assign(facts.pump, { currentA: amps, lightSince: stop, lightCount: Math.floor(light / 10_000) + 1 })
    if (light >= 30_000) facts.pump.recentA = amps
    Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, riseWindowS: 0, arriving: null })
  }
}

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

  it('is told for a protector that trips and tries again, from the third try', () => {
    const tries = (n: number) => (facts: Facts) => {
      Object.assign(facts.pump, { heavyTriesIn10Min: n, lastEnd: 'stalled', lastEndAt: START - 20 * MIN, lastEndA: 14 })
    }
    expect(bench().run(300, tries(2)).told).toEqual([])
    expect(bench().run(300, tries(3)).keys()).toEqual(['pump-stalled:pump'])
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

describe('silence', () => {
  const silent =
    (ids: readonly string[], from = START) =>
    (facts: Facts) => {
      facts.boards = facts.boards.map((board) => (ids.includes(board.id) ? { ...board, lastHeard: from } : board))
      facts.lastHeard = Math.max(...facts.boards.map((board) => board.lastHeard ?? 0))
    }
  const all = ['tank-board', 'pump-board', 'power-board']

  it('of one board is told after 5 intervals or 5 min, whichever is more', () => {
    const it_ = bench().run(900, silent(['tank-board']))
    expect(it_.keys()).toEqual(['board-silent:tank-board'])
    expect(it_.secondsTo('board-silent:tank-board')).toBe(300)
    const slow = aSite()
    const rare = slow.boards.map((board) => ({ ...board, expectEveryS: 120 }))
    const other = bench({ ...slow, boards: rare }).run(900, (facts) => {
      silent(['tank-board'])(facts)
      facts.boards = facts.boards.map((board) => ({ ...board, expectEveryS: 120 }))
    })
    expect(other.secondsTo('board-silent:tank-board')).toBe(600)
  })

  it('of all boards is one message for the site, after 15 min', () => {
    const it_ = bench().run(7_200, silent(all))
    expect(it_.told).toEqual([{ at: START + 900_000, reason: 'raised', key: 'site-silent:site' }])
  })

  it('of one board goes on when the others fall silent too, since nothing says that it is back', () => {
    const it_ = bench().run(600, silent(['tank-board']))
    it_.run(600, (facts) => {
      silent(all, START + 10 * MIN)(facts)
      silent(['tank-board'])(facts)
    })
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([['board-silent:tank-board', 'raised']])
    expect(it_.judge.active(it_.state)).toHaveLength(1)
  })

  it('of all boards waits for twice the longest outage that healed itself', () => {
    const it_ = bench().run(7_800, (facts) => {
      silent(all)(facts)
      facts.longestOutageMs = HOUR
    })
    expect(it_.secondsTo('site-silent:site')).toBe(7_200)
  })

  it('does not count while nobody listened', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, listeningSince: START + 10 * MIN }
    it_.run(2_400, silent(all, START - 5 * HOUR))
    expect(it_.secondsTo('site-silent:site')).toBe(600 + 900)
  })

  it('ends with the first word, whatever else is stale', () => {
    const it_ = bench().run(1_200, silent(all)).run(900)
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('of a board that was never heard is told too, once others have talked', () => {
    const it_ = bench().run(1_800, (facts) => {
      facts.firstHeard = START
      facts.boards = facts.boards.map((board) => (board.id === 'tank-board' ? { ...board, lastHeard: null } : board))
    })
    expect(it_.keys()).toEqual(['board-silent:tank-board'])
    expect(it_.judge.active(it_.state)[0]?.cause).toBe('never-heard')
  })
})

describe('sensor-suspect', () => {
  it('is told within 30 min of the contradiction', () => {
    const it_ = bench().run(1_800, (facts) => {
      facts.suspects = [{ key: 'tank-level', kind: 'failed-values', since: START, figure: 0.6 }]
    })
    expect(it_.keys()).toEqual(['sensor-suspect:tank-level'])
    expect(it_.secondsTo('sensor-suspect:tank-level')).toBeLessThanOrEqual(1_500)
  })

  it('is urgent when a line thermometer is lost in frost, and says what to believe', () => {
    const it_ = bench().run(900, (facts) => {
      facts.airC = -3
      facts.suspects = [{ key: 'line-temperature.outlet', kind: 'failed-values', since: START, figure: 1 }]
    })
    const [alarm] = it_.judge.active(it_.state)
    expect(alarm?.priority).toBe('high')
    expect(alarm?.words.what).toContain('freezing until you know better')
  })
})

describe('the daemon itself', () => {
  it('tells a store that cannot be written within 1 min, by its own clock', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, storeFailingSince: START + LOOK_MS, storeError: 'the disk is full' }
    it_.run(120)
    expect(it_.keys()).toEqual(['store-failing:store'])
    expect(it_.secondsTo('store-failing:store')).toBeLessThanOrEqual(15 + 45)
    expect(it_.judge.active(it_.state)[0]?.words.what).toContain('the disk is full')
  })

  it('tells the first failed round of telling', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, tellingFailingSince: START, tellingError: 'connection refused' }
    expect(it_.run(30).keys()).toEqual(['telling-failing:telling'])
  })

  it('tells a board whose clock lies ahead at once', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, suspectClocks: [{ board: 'tank-board', since: START, aheadS: 7_200 }] }
    expect(it_.run(15).keys()).toEqual(['clock-suspect:tank-board'])
  })
})

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
