import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import type { HouseFacts } from '../../src/model/facts-house.js'
import type { Facts, SuspectKind } from '../../src/model/facts.js'
import { ALARM_DEFINITIONS } from '../../src/judge/alarms/index.js'
import { TITLE_CHARS_MAX, titleWith } from '../../src/judge/phrase.js'
import { aColdEvening } from '../show/fake-cold.js'
import { aLine, aSite, bench, type Bench, running, START } from './facts.js'
import { POWER_FAULTS } from './power-faults.js'
import { trendOf } from './trend.js'

const HOUR = 3_600_000

type Fault = { bend: (facts: Facts, at: number) => void; before?: (it: Bench) => void }

const suspect = (kind: SuspectKind, key = 'tank-level'): Fault => ({
  bend: (facts) => {
    facts.suspects = [{ key, kind, since: START, figure: 3 }]
  },
})
const light = (facts: Facts) => {
  running(facts, START - HOUR)
  Object.assign(facts.pump, { currentA: 2.4, recentA: 2.4, lightSince: START, lightCount: 20 })
  Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, riseWindowS: 0, arriving: null })
}
const noRise = (amps: number) => (facts: Facts) => {
  running(facts, START - HOUR)
  Object.assign(facts.pump, { currentA: amps, recentA: amps })
  Object.assign(facts.water, { noRiseSince: START, seenRiseL: 0.1, expectedRiseL: 30 })
}
const silent =
  (all: boolean) =>
  (facts: Facts): void => {
    facts.boards = facts.boards.map((board, i) => (all || i === 0 ? { ...board, lastHeard: START } : board))
    if (all) facts.lastHeard = START
  }

const FALL = { since: START, hours: 4, rateLH: 5.2, rateSdLH: 0.4 }
const away = (it_: Bench): void => {
  it_.modes = { ...it_.modes, away: true }
}

/** Four rests of a slow well. */
const slowWell = {
  open: true,
  active: true,
  since: START - 2 * HOUR,
  starts: 4,
  rests: 4,
  litresPerStart: { value: 12, sd: 1 },
  litresPerRestH: { value: 36, sd: 3 },
  recoveryLH: { value: 28, sd: 2 },
}

const housePump = (set: Partial<HouseFacts>) => (facts: Facts) =>
  void Object.assign(facts.house, { known: true, usualRunS: 50, usualLongestRunS: 140, usualA: 4.3, ...set })

/** A yield that is lower, an energy that is higher, with the current and the voltage of these fills. */
const drifted =
  (yieldShare: number | null, energyShare: number | null, currentShare: number, voltageShare = 0) =>
  (facts: Facts): void => {
    facts.trend = trendOf({ yieldShare, energyShare, currentShare, voltageShare, since: START })
  }

/** A fault for every cause of every alarm. */
const FAULTS: Readonly<Record<string, Fault>> = {
  ...POWER_FAULTS,
  'yield-falling/less-current': { bend: drifted(-0.12, 0.1, -0.05) },
  'yield-falling/same-current': { bend: drifted(-0.12, 0.13, 0.01) },
  'yield-falling/more-current': { bend: drifted(-0.12, 0.2, 0.06) },
  'yield-falling/low-voltage': { bend: drifted(-0.12, 0.13, 0, -0.08) },
  // Without a yield that is told, since that would tell the story.
  'energy-rising/less-water': { bend: drifted(-0.045, 0.09, 0) },
  'energy-rising/more-current': { bend: drifted(0.01, 0.14, 0.13) },
  'energy-rising/not-clear': { bend: drifted(0, 0.08, 0) },
  'dry-well/went-light': { bend: light },
  'dry-well/light-from-start': {
    bend: (facts) => {
      light(facts)
      facts.pump.lightFromStart = true
    },
  },
  'dry-well/stopped-by-control': {
    bend: (facts) => void Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2 }),
  },
  'dry-well/rests-slow-well': {
    bend: (facts) => {
      Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2 })
      Object.assign(facts.episode, slowWell)
    },
  },
  'dry-well/recovers-less': {
    bend: (facts) => {
      Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2 })
      const usualLPerRestH = { value: 60, sd: 3, fills: 6 }
      Object.assign(facts.episode, slowWell, { known: true, asUsual: true, fallenTo: 0.6, usualLPerRestH })
    },
  },
  'no-rise/level-still': {
    bend: (facts) => {
      noRise(4.5)(facts)
      facts.suspects = [{ key: 'tank-level', kind: 'stuck', since: START, figure: 40 }]
      Object.assign(facts.evidence, { riseShare: 0, riseShareSd: 0.01, powerShare: 1, powerShareSd: 0.03 })
    },
  },
  'freeze-risk/tonight': {
    bend: (facts) => {
      facts.cold = aColdEvening(facts.at)
      facts.lines = [
        {
          ...aLine('tank outlet', 6),
          expectedMinC: -2,
          expectedMinSdC: 1,
          hoursToZero: 7.6,
          hoursToZeroLeast: 5,
          hoursToIce: 30,
        },
      ]
    },
  },
  'freeze-risk/falls-now': {
    bend: (facts) => {
      facts.lines = [{ ...aLine('tank outlet', 3), hoursToZero: 2.4 }]
    },
  },
  'freeze-risk/frost-depth': {
    bend: (facts) => {
      facts.cold = aColdEvening(facts.at)
      facts.lines = [{ ...aLine('line to the house', null), depthM: 0.42 }]
    },
  },
  'fill-long/gives-less': {
    bend: (facts) => {
      running(facts, START - 1.9 * HOUR)
      Object.assign(facts.water, { expectedFillS: 2_400, rateShare: 0.45 })
      Object.assign(facts.evidence, { riseShare: 0.4, riseShareSd: 0.03, powerShare: 0.9, powerShareSd: 0.03 })
    },
  },
  'fill-long/drawn': {
    bend: (facts) => {
      running(facts, START - 2.1 * HOUR)
      facts.occupied = true
      Object.assign(facts.water, { expectedFillS: 2_400, rateShare: 1 })
      Object.assign(facts.evidence, { riseShare: 0.4, riseShareSd: 0.03, powerShare: 1, powerShareSd: 0.03 })
    },
  },
  'fill-long/weak-battery': {
    bend: (facts) => {
      running(facts, START - 1.9 * HOUR)
      Object.assign(facts.battery, { recentV: 24.1, lastLowAt: START - HOUR })
      Object.assign(facts.water, { expectedFillS: 2_400, rateShare: 0.65 })
      Object.assign(facts.evidence, { powerShare: 0.7, powerShareSd: 0.03, riseShare: 0.6, riseShareSd: 0.03 })
    },
  },
  'sensor-suspect/control-chatter': suspect('control-chatter', 'pump-current'),
  'pump-stalled/heavy': {
    bend: (facts) => {
      running(facts, START)
      Object.assign(facts.pump, { currentA: 14, heavySince: START, heavyCount: 9 })
      facts.water.seenRiseL = null
    },
  },
  'pump-stalled/trips-and-tries': {
    bend: (facts) => void Object.assign(facts.pump, { heavyTriesIn10Min: 4, lastEndA: 14 }),
  },
  'pump-stalled/stopped-heavy': {
    bend: (facts) => void Object.assign(facts.pump, { lastEnd: 'stalled', lastEndAt: START, lastEndA: 14 }),
  },
  'pump-no-start/no-current': { bend: (facts) => void Object.assign(facts.water, { calledSince: START }) },
  'no-rise/goes-elsewhere': { bend: noRise(4.5) },
  'no-rise/pushes-against': { bend: noRise(6.5) },
  'fill-long/past-usual': {
    bend: (facts) => {
      running(facts, START - 1.9 * HOUR)
      facts.water.expectedFillS = 2_400
    },
  },
  'fill-long/past-longest': { bend: (facts) => void running(facts, START - 2.1 * HOUR) },
  'fill-long/runs-while-winterized': {
    before: (it_) => {
      it_.modes = { ...it_.modes, winterized: true }
    },
    bend: (facts) => void running(facts, START),
  },
  'overfill/runs-past-high': {
    bend: (facts) => {
      running(facts, START - HOUR)
      facts.water.atHighSince = START
    },
  },
  'overfill/past-full-running': {
    bend: (facts) => {
      running(facts, START - HOUR)
      facts.water.pastFullSince = START
    },
  },
  'overfill/past-full': { bend: (facts) => void Object.assign(facts.water, { pastFullSince: START }) },
  'leak/large': {
    bend: (facts) => {
      facts.loss.big = { ...FALL, hours: 0.5, rateLH: 420, inQuietHours: true, drawless: false }
    },
  },
  'leak/steady': {
    before: away,
    bend: (facts) => {
      facts.loss.steady = { ...FALL, inQuietHours: false, drawless: true }
    },
  },
  'leak/nightly': {
    bend: (facts) => {
      facts.loss.nightly = { ...FALL, nights: 3 }
    },
  },
  'leak/day-by-day': {
    before: (it_) => {
      away(it_)
      it_.run(15).skip(25 * HOUR)
    },
    bend: (facts) => {
      facts.loss.sameHour = { ...FALL, since: facts.at - 24 * HOUR, hours: 24 }
    },
  },
  'leak/fill-again': {
    bend: (facts) => {
      facts.loss.interval = { from: START - 2.5 * HOUR, to: START, litres: 200, inQuietHours: true }
    },
  },
  'stale-water/stands': {
    bend: (facts) => {
      const usualDayL = { valueL: 250, sdL: 40, days: 20 }
      Object.assign(facts.loss, { turnoverDays: 11, usualTurnoverDays: 4.5, usualDayL, seemsEmpty: false })
      facts.loss.lastDrawAt = facts.at - HOUR
    },
  },
  'tank-low/below-reserve': { bend: (facts) => void Object.assign(facts.water, { volumeL: 210, hoursLeft: 21 }) },
  'battery-low/low-under-load': {
    bend: (facts) => {
      running(facts, START - HOUR)
      Object.assign(facts.battery, { lowSince: START, recentV: 23.5 })
    },
  },
  'battery-low/low-at-rest': { bend: (facts) => void Object.assign(facts.battery, { lowSince: START, recentV: 25.1 }) },
  'battery-low/soon-cut-off': { bend: (facts) => void Object.assign(facts.battery, { hoursToCutOff: 2 }) },
  'battery-low/cut-off': {
    bend: (facts) => {
      Object.assign(facts.pump, { lastEnd: 'power-lost', lastEndAt: START })
      facts.battery.lowest30MinV = 22
    },
  },
  'freezing/measured': {
    bend: (facts) => {
      facts.lines = [{ ...aLine('tank outlet', -1), frozenSince: START }]
    },
  },
  'freezing/modelled': {
    bend: (facts) => {
      facts.lines = [{ ...aLine('tank outlet', -1), frozenSince: START, modelled: true }]
    },
  },
  'board-silent/stopped': { bend: silent(false) },
  'board-silent/unreadable': {
    before: (it_) => {
      it_.daemon = {
        ...it_.daemon,
        unreadable: [{ board: 'tank-board', since: START, count: 40, reason: 'not-senml' }],
      }
    },
    bend: silent(false),
  },
  'board-silent/never-heard': {
    bend: (facts) => {
      facts.firstHeard = START
      facts.boards = facts.boards.map((board, i) => (i === 0 ? { ...board, lastHeard: null } : board))
    },
  },
  'site-silent/link-or-power': { bend: silent(true) },
  'site-silent/power': {
    bend: (facts) => {
      silent(true)(facts)
      facts.battery.lowest30MinV = 21.1
    },
  },
  'house-pump-cycling/short-runs': {
    bend: housePump({ startsIn30Min: 12, meanRunS: 9, firstStart: START, pauseS: 40, shortestRunS: 5 }),
  },
  'house-pump-cycling/regular-starts': {
    bend: housePump({ regular: { since: START, count: 12, intervalS: 420, spreadS: 5, runS: 40 } }),
  },
  'house-pump-cycling/no-pressure': {
    bend: housePump({ running: true, runningSince: START, lowSince: START, pressurePa: 12_000, currentA: 2 }),
  },
  'house-pump-cycling/over-pressure': {
    bend: housePump({ running: true, runningSince: START, highSince: START, pressurePa: 420_000, currentA: 5 }),
  },
  'house-pump-cycling/runs-on': { bend: housePump({ running: true, runningSince: START, currentA: 4 }) },
  'sensor-suspect/probes-contradict': suspect('probes-contradict', 'tank-probe-high'),
  'sensor-suspect/stuck': suspect('stuck'),
  'sensor-suspect/failed-values': suspect('failed-values'),
  'sensor-suspect/too-fast': suspect('too-fast'),
  'sensor-suspect/contact-chatter': suspect('contact-chatter', 'tank-probe-low'),
  'sensor-suspect/missing': suspect('missing'),
  'sensor-suspect/not-possible': suspect('not-possible'),
  'sensor-suspect/unit': {
    bend: (facts) => {
      facts.suspects = [
        { key: 'tank-level', kind: 'unit', since: START, figure: 1, likely: 'feet where metres are expected' },
      ]
    },
  },
  'sensor-suspect/resets-at-start': suspect('resets-at-start', 'pump-board'),
  'sensor-suspect/restarts': suspect('restarts', 'pump-board'),
  'sensor-suspect/two-boards-one-name': {
    before: (it_) => {
      it_.daemon = { ...it_.daemon, twoBoards: [{ board: 'tank-board', since: START, takeovers: 6 }] }
    },
    bend: () => undefined,
  },
  'store-failing/cannot-write': {
    before: (it_) => {
      it_.daemon = { ...it_.daemon, storeFailingSince: START, storeError: 'the disk is full' }
    },
    bend: () => undefined,
  },
  'telling-failing/no-way-works': {
    before: (it_) => {
      it_.daemon = { ...it_.daemon, tellingFailingSince: START }
    },
    bend: () => undefined,
  },
  'clock-suspect/ahead': {
    before: (it_) => {
      it_.daemon = { ...it_.daemon, suspectClocks: [{ board: 'tank-board', since: START, aheadS: 7_200 }] }
    },
    bend: () => undefined,
  },
  'clock-suspect/jumps': {
    before: (it_) => {
      it_.daemon = { ...it_.daemon, suspectClocks: [{ board: 'tank-board', since: START, aheadS: null, lost: true }] }
    },
    bend: () => undefined,
  },
}

/** The alarm that a fault raises, with everything else of the facts as `forget` leaves it. */
function alarmOf(
  name: string,
  forget: (facts: Facts) => void = () => undefined,
  units: 'us' | 'si' = 'us',
): Alarm | undefined {
  const fault = FAULTS[name]
  const it_ = bench({ ...aSite(), units })
  fault?.before?.(it_)
  it_.run(3_000, (facts, at) => {
    fault?.bend(facts, at)
    forget(facts)
  })
  return it_.outcomes
    .flatMap(({ notices }) => notices.map(({ alarm }) => alarm))
    .find((alarm) => `${alarm.id}/${alarm.cause}` === name)
}

/** Everything that an alarm's words may find unknown, without the alarm itself being unknown. */
function forgetMuch(facts: Facts): void {
  Object.assign(facts.water, { hoursLeft: null, drawLH: null, usualFlowLMin: null })
  Object.assign(facts, { airC: null })
  facts.battery.temperatureC = null
}

const sentences = ({ words }: Alarm) =>
  [words.what, ...words.causes, words.action, words.ifIgnored, words.caution, words.timeLeft].filter(
    (text) => text !== null,
  )

it('there is a fault here for every cause of every alarm', () => {
  const causes = ALARM_DEFINITIONS.flatMap(({ id, causes: of }) => Object.keys(of).map((cause) => `${id}/${cause}`))
  expect(Object.keys(FAULTS).sort()).toEqual(causes.sort())
})

describe.each(Object.keys(FAULTS))('the words of %s', (name) => {
  const alarm = alarmOf(name)

  it('are told for this fault', () => {
    expect(alarm).toBeDefined()
  })

  it('have a title for one line, a beginning in site time, a number, causes, an action and what happens else', () => {
    if (alarm === undefined) throw new Error('not told')
    const { words } = alarm
    expect(words.title.length).toBeGreaterThan(8)
    expect(words.title.length).toBeLessThanOrEqual(TITLE_CHARS_MAX)
    expect(words.title).not.toMatch(/\.$|\n/)
    // 14:00 at the invented site is 21:00 UTC: a message in UTC would show 2x:xx.
    // What is told of days and weeks began at the same hour of another day.
    expect(words.what).toMatch(/(Tue 3 Feb|Mon 2 Feb|Fri 23 Jan|Mon 19 Jan) 1[1-5]:\d\d|in about \d+ h/)
    expect(words.what).toMatch(
      /\d+(\.\d+)? ((A|V|ft|gal|psi|°F|min|s|h|in|d)\b|%)|battery \d|\d+ times|never been heard|higher one is wet|: \d+, usually none|should have moved/,
    )
    expect(words.causes.length).toBeGreaterThan(0)
    expect(words.action.length).toBeGreaterThan(20)
    expect(words.ifIgnored.length).toBeGreaterThan(20)
    // Neither a jump nor a contradiction has a figure.
    if (!['jumps', 'probes-contradict'].includes(alarm.cause)) expect(alarm.evidence.length).toBeGreaterThan(0)
  })

  it('are whole sentences without code words, and call nothing unknown fine or 0', () => {
    for (const units of ['us', 'si'] as const) {
      for (const forget of [() => undefined, forgetMuch]) {
        const one = alarmOf(name, forget, units)
        if (one === undefined) throw new Error('not told')
        for (const text of sentences(one)) {
          expect(text).toMatch(/^[A-Z0-9a-z].*[.]$/s)
          expect(text).not.toMatch(/null|undefined|NaN|\bOK\b|unknown \w+ since|\[object|\bS\b/)
          expect(text).not.toMatch(/went-light|past-usual|link-or-power|failed-values|runs-while|\b[a-z]+Since\b/)
          expect(text).not.toMatch(/ {2}|\.\.| ,| \./)
        }
        for (const item of one.evidence) expect(Number.isFinite(item.value)).toBe(true)
      }
    }
  })

  it('put the number beside its usual wherever a usual is known', () => {
    if (alarm === undefined) throw new Error('not told')
    const known = alarm.evidence.filter(({ usual, quantity }) => usual !== null && quantity === 'current')
    if (known.length > 0 && !['battery-low', 'pump-no-start'].includes(alarm.id))
      expect(alarm.words.what).toMatch(/usually/)
  })
})

describe('what the words promise', () => {
  it('a dry well and a lost prime are named together, in the order the data allow', () => {
    const [went, start] = ['dry-well/went-light', 'dry-well/light-from-start'].map(
      (name) => alarmOf(name)?.words.causes ?? [],
    )
    expect(went?.[0]).toMatch(/well is pumped down/)
    expect(went?.[1]).toMatch(/prime/)
    expect(start?.[0]).toMatch(/prime/)
    expect(start?.[1]).toMatch(/well is pumped down/)
  })

  it('a light pump is called dry for sure only when the water was seen to stop', () => {
    expect(alarmOf('dry-well/went-light')?.words.title).toMatch(/probably/)
    const sure = alarmOf('dry-well/went-light', (facts) => void Object.assign(facts.water, { noRiseSince: START }))
    expect(sure?.words.title).toBe('Pump runs but no water comes')
  })

  it('work that can hurt carries a caution', () => {
    for (const name of Object.keys(FAULTS)) {
      const alarm = alarmOf(name)
      const dangerous =
        /^(leak|stale-water|yield-falling|energy-rising|dry-well|pump-|no-rise|fill-long|overfill|tank-low|battery-|array-|freez|house-pump|sensor-suspect\/(control-chatter|resets-at-start))/.test(
          name,
        )
      expect(alarm?.words.caution !== null, name).toBe(dangerous)
    }
  })

  it('units are those of the site', () => {
    expect(alarmOf('tank-low/below-reserve')?.words.what).toContain('55 gal left')
    expect(alarmOf('tank-low/below-reserve', undefined, 'si')?.words.what).toContain('210 l left')
    expect(alarmOf('freezing/measured')?.words.what).toContain('30 °F')
    expect(alarmOf('freezing/measured', undefined, 'si')?.words.what).toContain('-1.0 °C')
  })

  it('a name that is too long for a title is cut, the rest is not', () => {
    const title = titleWith('Freezing: ', 'a'.repeat(100), '')
    expect(title).toHaveLength(TITLE_CHARS_MAX)
    expect(title.endsWith('…')).toBe(true)
  })
})
