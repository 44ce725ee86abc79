/** The measure that messages are held against: it must be able to say no. */
import { describe, expect, it } from 'vitest'
import type { MarkId, Truth } from '../../simulators/truth.js'
import type { Alarm, AlarmId, Notice } from '../../src/model/alarm.js'
import { DAY, HOUR, type Ms } from '../../src/model/time.js'
import { whyTrue } from './site-years/truth-of.js'

const AT = Date.UTC(2026, 4, 4)

function notice(id: AlarmId): Notice {
  const alarm: Alarm = {
    key: `${id}:x`,
    id,
    subject: 'x',
    priority: 'high',
    state: 'unacknowledged',
    since: AT,
    raised: AT,
    cleared: null,
    cause: '',
    evidence: [],
    words: { title: '', what: '', causes: [], action: '', ifIgnored: '', caution: null, timeLeft: null },
    acknowledgedBy: null,
    acknowledgedAt: null,
    shelvedUntil: null,
    shelveReason: null,
    explainedBy: null,
    raisesInDay: 1,
  }
  return { at: AT, reason: 'raised', alarm }
}

function truth(marks: readonly (readonly [Ms, MarkId])[], lineMinC = 5): Truth {
  const day = { date: '', start: AT - DAY, end: AT + DAY, lineMinC, usedL: 100, batteryMaxV: 28 }
  const rest = { pumpedL: 0, leakedL: 0, overflowL: 0, fills: 0, runS: 0, pumpWh: 0, harvestWh: 0, batteryMinV: 0 }
  return {
    site: 'juniper',
    start: AT - 30 * DAY,
    end: AT + 30 * DAY,
    runs: [],
    days: [{ ...day, ...rest, airMinC: 0, airMaxC: 0 }],
    marks: marks.map(([at, what]) => ({ at, what, detail: '' })),
    lastWord: {},
    balance: {
      tankStartL: 0,
      tankEndL: 0,
      pumpedL: 0,
      usedL: 0,
      leakedL: 0,
      overflowL: 0,
      storedStartAh: 0,
      storedEndAh: 0,
      inAh: 0,
      kept: 1,
      outAh: 0,
      lostAh: 0,
    },
  }
}

describe('a message of an ordinary year', () => {
  it('is false where nothing of the kind happened, whatever the alarm', () => {
    const ids: readonly AlarmId[] = [
      'dry-well',
      'tank-low',
      'battery-low',
      'freezing',
      'site-silent',
      'leak',
      'fill-long',
    ]
    for (const id of ids) expect([id, whyTrue(notice(id), truth([]))]).toEqual([id, null])
  })

  it('is true where it happened in the day before, and false where it happened earlier', () => {
    expect(whyTrue(notice('dry-well'), truth([[AT - HOUR, 'water-stopped']]))).not.toBeNull()
    expect(whyTrue(notice('dry-well'), truth([[AT - 2 * DAY, 'water-stopped']]))).toBeNull()
    expect(whyTrue(notice('tank-low'), truth([[AT - HOUR, 'water-stopped']]))).toBeNull()
    expect(whyTrue(notice('freezing'), truth([], -0.4))).not.toBeNull()
    expect(whyTrue(notice('freezing'), truth([], 1))).toBeNull()
    expect(whyTrue(notice('freeze-risk'), truth([], 1))).not.toBeNull()
  })

  it('of silence is false for an outage that heals itself as always, and true for a long one', () => {
    const outage = (hours: number) =>
      truth([
        [AT - HOUR, 'link-down'],
        [AT + (hours - 1) * HOUR, 'link-up'],
      ])
    expect(whyTrue(notice('site-silent'), outage(5))).toBeNull()
    expect(whyTrue(notice('site-silent'), outage(9))).not.toBeNull()
  })
})
