import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { aLine, aSite, bench, LOOK_MS, running, START } from './facts.js'

const low = (facts: Facts) => Object.assign(facts.water, { volumeL: 300, hoursLeft: 30 })
/** An alarm without any delay of its own, so that only the judge's rules calm it. */
const nervous = () => bench(aSite({ 'tank-low': { onDelayS: 0, offDelayS: 0, numbers: { deadband: 0 } } }))

describe('what is told', () => {
  it('is one raise and one all-clear, with the times from beginning to end', () => {
    const it_ = bench().run(600, low).run(1_800)
    const notices = it_.outcomes.flatMap((outcome) => outcome.notices)
    expect(notices.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
    expect(notices[1]?.alarm).toMatchObject({ since: START + LOOK_MS, cleared: START + 600_000 + LOOK_MS })
  })

  it('has no all-clear for what was never told', () => {
    const it_ = bench()
    it_.modes = { ...it_.modes, maintenanceUntil: START + HOUR }
    expect(it_.run(600, low).run(3_600).told).toEqual([])
  })

  it('is not repeated while the alarm stands', () => {
    expect(bench().run(12 * 3_600, low).told).toHaveLength(1)
  })
})

describe('an alarm that comes and goes', () => {
  const toggling = (periodMs: number) => (facts: Facts, at: number) => {
    if (Math.floor((at - START) / periodMs) % 2 === 0) low(facts)
  }

  it('toggling each 20 s for 6 h makes at most two messages, the last an all-clear that covers all of it', () => {
    const it_ = nervous().run(6 * 3_600, toggling(20_000))
    const during = it_.told.length
    it_.run(8 * 3_600)
    expect(during).toBeLessThanOrEqual(2)
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
    const last = it_.outcomes.flatMap((outcome) => outcome.notices).at(-1)
    expect(last?.alarm).toMatchObject({ since: START + LOOK_MS, raised: START + LOOK_MS })
    expect(last?.alarm.raisesInDay).toBe(LIMITS.raisesKeptMax)
  })

  it('slowly is told as on and off at its next raise, then no more until it has been normal for 6 h', () => {
    const it_ = nervous().run(12 * 3_600, toggling(HOUR))
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared', 'on-and-off'])
    it_.run(24 * 3_600)
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared', 'on-and-off', 'cleared'])
    const [first] = it_.told
    const last = it_.told.at(-1)
    expect((last?.at ?? 0) - (first?.at ?? 0)).toBeGreaterThanOrEqual(DAY)
  })

  it('never makes more than three messages in any 24 h, and ends with an all-clear', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 300 }), { minLength: 2, maxLength: 40 }), (spells) => {
        const it_ = nervous()
        spells.forEach((minutes, i) => {
          it_.run(minutes * 60, i % 2 === 0 ? low : undefined)
        })
        it_.run(31 * 3_600)
        for (const { at } of it_.told) {
          const inDay = it_.told.filter((one) => one.at >= at && one.at < at + DAY)
          expect(inDay.length).toBeLessThanOrEqual(LIMITS.noticesInDayMax)
        }
        expect(it_.told.at(-1)?.reason).toBe('cleared')
      }),
      { numRuns: 12 },
    )
  })
})

describe('an alarm that was acknowledged', () => {
  it('is quiet; acknowledging twice changes nothing', () => {
    const it_ = bench().run(600, low)
    const first = it_.judge.acknowledge(it_.state, 'tank-low:tank', 'ops', START + 600_000)
    const again = it_.judge.acknowledge(it_.state, 'tank-low:tank', 'neighbour', START + 700_000)
    expect(first?.alarm).toMatchObject({
      state: 'acknowledged',
      acknowledgedBy: 'ops',
      acknowledgedAt: START + 600_000,
    })
    expect(again?.alarm).toEqual(first?.alarm)
    expect(it_.judge.acknowledge(it_.state, 'overfill:tank', 'ops', START)).toBeNull()
  })

  it('comes again when it worsens', () => {
    const lost = (airC: number) => (facts: Facts) => {
      facts.airC = airC
      facts.suspects = [{ key: 'line-temperature.outlet', kind: 'missing', since: START, figure: 900 }]
    }
    const it_ = bench().run(900, lost(4))
    it_.judge.acknowledge(it_.state, 'sensor-suspect:line-temperature.outlet', 'ops', START + 900_000)
    it_.run(600, lost(-2))
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'worsened'])
    expect(it_.judge.active(it_.state)[0]).toMatchObject({
      state: 'unacknowledged',
      priority: 'high',
      acknowledgedBy: null,
    })
  })

  it('comes again when it has cleared and is raised anew', () => {
    const it_ = bench().run(600, low)
    it_.judge.acknowledge(it_.state, 'tank-low:tank', 'ops', START + 600_000)
    it_.run(3_600).run(600, low)
    expect(it_.judge.active(it_.state)[0]).toMatchObject({
      state: 'unacknowledged',
      acknowledgedBy: null,
      raisesInDay: 2,
    })
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared', 'on-and-off'])
  })

  it('that nobody acknowledged leaves the list a week after it returned', () => {
    const it_ = bench().run(600, low).run(3_600)
    expect(it_.judge.active(it_.state)[0]?.state).toBe('returned-unacknowledged')
    it_.skip(7 * DAY).run(60)
    expect(it_.judge.active(it_.state)).toEqual([])
  })
})

describe('shelving and service', () => {
  it('is quiet on the shelf, names reason and person, and comes back by itself', () => {
    const it_ = bench().run(600, low)
    const row = it_.judge.shelve(it_.state, 'tank-low:tank', START + 2 * HOUR, 'being repaired', 'ops', START + 600_000)
    expect(row?.alarm).toMatchObject({
      state: 'shelved',
      shelveReason: 'being repaired (ops)',
      shelvedUntil: START + 2 * HOUR,
    })
    it_.run(7_200, low)
    expect(it_.judge.active(it_.state)[0]).toMatchObject({ state: 'unacknowledged', shelvedUntil: null })
    expect(it_.told).toHaveLength(1)
  })

  it('bounds the shelf and refuses one that is over', () => {
    const it_ = bench().run(600, low)
    expect(it_.judge.shelve(it_.state, 'tank-low:tank', START, 'x', 'ops', START + HOUR)).toBeNull()
    const row = it_.judge.shelve(it_.state, 'tank-low:tank', START + 300 * DAY, '', 'ops', START + HOUR)
    expect(row?.alarm.shelvedUntil).toBe(START + HOUR + LIMITS.shelveMaxMs)
    expect(it_.judge.unshelve(it_.state, 'tank-low:tank')?.alarm.state).toBe('unacknowledged')
    expect(it_.judge.unshelve(it_.state, 'tank-low:tank')).toBeNull()
  })

  it('returns to normal from the shelf when the condition has gone meanwhile', () => {
    const it_ = bench().run(600, low)
    it_.judge.shelve(it_.state, 'tank-low:tank', START + HOUR, '', 'ops', START + 600_000)
    it_.run(2 * 3_600)
    expect(it_.judge.active(it_.state)).toEqual([])
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('out of service is quiet until a person returns it', () => {
    const it_ = bench().run(600, low)
    it_.judge.removeFromService(it_.state, 'tank-low:tank', 'sensor away', 'ops')
    it_.run(24 * 3_600, low)
    expect(it_.told).toHaveLength(1)
    expect(it_.judge.returnToService(it_.state, 'tank-low:tank')?.alarm.state).toBe('unacknowledged')
  })
})

describe('modes', () => {
  it('winterized: drained things are quiet, and told when the mode ends and they still hold', () => {
    const it_ = bench()
    it_.modes = { ...it_.modes, winterized: true }
    it_.run(3_600, (facts) => {
      low(facts)
      facts.water.calledSince = START
      facts.lines = [{ ...aLine('tank outlet', -9), frozenSince: START }]
    })
    expect(it_.told).toEqual([])
    it_.modes = { ...it_.modes, winterized: false }
    it_.run(60, low)
    expect(it_.keys()).toEqual(['tank-low:tank'])
  })

  it('maintenance: only the store, the battery and silence are told; it ends by itself', () => {
    const it_ = bench()
    it_.modes = { ...it_.modes, maintenanceUntil: START + HOUR }
    it_.run(1_800, (facts, at) => {
      running(facts, START - HOUR)
      facts.water.atHighSince = START
      Object.assign(facts.battery, { lowSince: at < START + 20 * MINUTE ? null : START + 20 * MINUTE })
    })
    expect(it_.keys()).toEqual(['battery-low:battery'])
    it_.run(2_400, (facts) => {
      running(facts, START - HOUR)
      facts.water.atHighSince = START
    })
    expect(it_.keys()).toEqual(['battery-low:battery', 'overfill:tank'])
    expect(it_.secondsTo('overfill:tank')).toBeGreaterThanOrEqual(3_600 - 30)
  })

  it('an alarm that its owner disabled is not judged, and one that stood then ends', () => {
    expect(bench(aSite({ 'tank-low': { enabled: false } })).run(3_600, low).told).toEqual([])
    const it_ = bench().run(600, low)
    const other = bench(aSite({ 'tank-low': { enabled: false } }))
    other.state = it_.judge.restore(JSON.stringify(it_.state))
    other.run(3_600, low)
    expect(other.told.map(({ reason }) => reason)).toEqual(['cleared'])
  })

  it('a configured priority stands above the alarm’s own', () => {
    const it_ = bench(aSite({ 'tank-low': { priority: 'low' } })).run(600, low)
    expect(it_.judge.active(it_.state)[0]?.priority).toBe('low')
  })
})

describe('moments long past', () => {
  it('raise nothing: a backlog that flushes hours of trouble is silent until it reaches now', () => {
    const it_ = bench()
    for (let i = 0; i < 400; i += 1) it_.lookBehind(LIMITS.staleAlarmMs + 1, low)
    expect(it_.told).toEqual([])
    expect(it_.judge.active(it_.state)).toEqual([])
    it_.lookBehind(LIMITS.staleAlarmMs, low)
    expect(it_.keys()).toEqual(['tank-low:tank'])
  })

  it('do not tell a consequence that outlived its cause, until now is reached', () => {
    const dry = (facts: Facts) => {
      low(facts)
      Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2 })
    }
    const it_ = bench().run(600, dry)
    for (let i = 0; i < 1_200; i += 1) it_.lookBehind(HOUR, low)
    expect(it_.keys()).toEqual(['dry-well:pump'])
    it_.lookBehind(0, low)
    expect(it_.keys()).toEqual(['dry-well:pump', 'tank-low:tank'])
  })

  it('may end an alarm', () => {
    const it_ = bench().run(600, low)
    for (let i = 0; i < 100; i += 1) it_.lookBehind(5 * HOUR)
    expect(it_.told.map(({ reason }) => reason)).toEqual(['raised', 'cleared'])
  })

  it('are not judged twice: a look at or before the last one changes nothing', () => {
    const it_ = bench().run(600, low)
    const before = JSON.stringify(it_.state)
    it_.lookBehind(0, (facts) => Object.assign(facts, { at: START + 300_000 }))
    expect(JSON.stringify(it_.state)).toBe(before)
  })
})
