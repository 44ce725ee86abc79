import { describe, expect, it } from 'vitest'
import type { AlarmId } from '../../src/model/alarm.js'
import type { Facts } from '../../src/model/facts.js'
import { ALARM_DEFINITIONS } from '../../src/judge/alarms/index.js'
import type { AlarmDefinition, Explainer } from '../../src/judge/definition.js'
import { type Entry, newEntry } from '../../src/judge/entry.js'
import { explanationTable, findCause, type Table } from '../../src/judge/grouping.js'
import { aLine, bench, LOOK_MS, running, START } from './facts.js'

const MIN = 60_000
const HOUR = 3_600_000
type Bend = (facts: Facts, at: number) => void

const both =
  (...bends: readonly Bend[]): Bend =>
  (facts, at) => {
    for (const bend of bends) bend(facts, at)
  }
const tankLow: Bend = (facts) => void Object.assign(facts.water, { volumeL: 300 })
const called: Bend = (facts) => void Object.assign(facts.water, { calledSince: START })
const batteryLow: Bend = (facts) => void Object.assign(facts.battery, { lowSince: START, recentV: 25 })
const stoppedDry: Bend = (facts) => void Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: START, lastEndA: 2 })
const jammed: Bend = (facts) => {
  running(facts, START)
  Object.assign(facts.pump, { currentA: 14, heavySince: START, heavyCount: 9 })
  Object.assign(facts.water, { seenRiseL: null })
}
const noRise: Bend = (facts) => {
  running(facts, START - HOUR)
  Object.assign(facts.water, { noRiseSince: START, seenRiseL: 0, expectedRiseL: 30 })
}
const stuckLevel: Bend = (facts) => {
  facts.suspects = [{ key: 'tank-level', kind: 'stuck', since: START, figure: 60 }]
}
const stuckOn: Bend = (facts) => {
  running(facts, START - 1.5 * HOUR)
  facts.water.atHighSince = START
}
const allSilent: Bend = (facts) => {
  facts.boards = facts.boards.map((board) => ({ ...board, lastHeard: START }))
  facts.lastHeard = START
}
const tankBoardSilent: Bend = (facts) => {
  facts.boards = facts.boards.map((board) => (board.id === 'tank-board' ? { ...board, lastHeard: START } : board))
}
const levelMissing: Bend = (facts) => {
  facts.suspects = [{ key: 'tank-level', kind: 'missing', since: START, figure: 600 }]
}
const frozen: Bend = (facts) => {
  facts.lines = [
    { ...aLine('a', -1), frozenSince: START },
    { ...aLine('b', -1), frozenSince: START + 10 * MIN },
  ]
}

describe('one fault gives one message', () => {
  it.each<[string, Bend, string, readonly string[]]>([
    ['a dry well explains a low tank', both(stoppedDry, tankLow), 'dry-well:pump', ['tank-low:tank']],
    ['a jam explains a low tank', both(jammed, tankLow), 'pump-stalled:pump', ['tank-low:tank']],
    [
      'a low battery explains a pump that does not start and a low tank',
      both(batteryLow, tankLow),
      'battery-low:battery',
      ['tank-low:tank'],
    ],
    [
      'a pump that does not fill explains a level sensor that stands still',
      both(noRise, stuckLevel),
      'no-rise:pump',
      ['sensor-suspect:tank-level'],
    ],
    ['a control stuck on explains a long fill', stuckOn, 'overfill:tank', ['fill-long:pump']],
    [
      'a silent board explains its missing signals',
      both(tankBoardSilent, levelMissing),
      'board-silent:tank-board',
      ['sensor-suspect:tank-level'],
    ],
    ['a frozen line explains the next', frozen, 'freezing:a', ['freezing:b']],
    ['a silent site explains its silent boards', allSilent, 'site-silent:site', []],
  ])('%s', (_, bend, cause, consequences) => {
    const it_ = bench().run(3_000, bend)
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([[cause, 'raised']])
    const beneath = it_.judge.active(it_.state).filter(({ explainedBy }) => explainedBy !== null)
    expect(beneath.map(({ key }) => key).sort()).toEqual([...consequences].sort())
    for (const alarm of beneath) expect(alarm.explainedBy).toBe(cause)
  })

  it('a battery cut-off, then silence of all boards, is one message', () => {
    const it_ = bench().run(600, batteryLow)
    it_.run(4 * 3_600, (facts) => {
      const from = START + 10 * MIN
      facts.boards = facts.boards.map((board) => ({ ...board, lastHeard: from }))
      facts.lastHeard = from
      Object.assign(facts.battery, { recentV: null, voltageV: null, lowSince: null, lowest30MinV: 21.2 })
      Object.assign(facts.water, { levelM: null, volumeL: null })
      facts.pump.known = false
    })
    expect(it_.told.map(({ key }) => key)).toEqual(['battery-low:battery'])
    expect(it_.judge.active(it_.state).map(({ key, explainedBy }) => [key, explainedBy])).toEqual([
      ['battery-low:battery', null],
      ['site-silent:site', 'battery-low:battery'],
    ])
  })

  it('a less urgent alarm never hides a more urgent one, and is put beneath it when that comes', () => {
    const it_ = bench().run(600, (facts) => void running(facts, START - 2.1 * HOUR))
    expect(it_.keys()).toEqual(['fill-long:pump'])
    it_.run(600, (facts) => {
      running(facts, START - 2.1 * HOUR)
      facts.water.volumeL = 300
    })
    expect(it_.keys()).toEqual(['fill-long:pump', 'tank-low:tank'])
    expect(it_.judge.active(it_.state).find(({ id }) => id === 'fill-long')?.explainedBy).toBe('tank-low:tank')
  })

  it('a board that is silent does not explain the signals of another', () => {
    const it_ = bench().run(3_000, (facts, at) => {
      tankBoardSilent(facts, at)
      facts.suspects = [{ key: 'battery-voltage', kind: 'failed-values', since: START, figure: 1 }]
    })
    expect(it_.keys().sort()).toEqual(['board-silent:tank-board', 'sensor-suspect:battery-voltage'])
  })

  it('several sensors of one board in doubt at once are one message', () => {
    const it_ = bench().run(3_000, (facts) => {
      facts.suspects = [
        { key: 'tank-level', kind: 'failed-values', since: START, figure: 1 },
        { key: 'line-temperature.outlet', kind: 'failed-values', since: START, figure: 1 },
      ]
    })
    expect(it_.told).toHaveLength(1)
  })
})

describe('cause and consequence over time', () => {
  it('a consequence that outlives its cause is told then', () => {
    const it_ = bench().run(1_200, both(stoppedDry, tankLow))
    const full: Bend = both((facts) => void Object.assign(facts.pump, { lastEnd: 'full' }), tankLow)
    it_.run(3_600, full)
    expect(it_.told).toHaveLength(1)
    it_.run(4 * 3_600, full)
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([
      ['dry-well:pump', 'raised'],
      ['dry-well:pump', 'cleared'],
      ['tank-low:tank', 'raised'],
    ])
  })

  it('a cause that ends with its consequences sends one all-clear for all', () => {
    const it_ = bench()
      .run(1_200, both(stoppedDry, tankLow))
      .run(4 * 3_600)
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([
      ['dry-well:pump', 'raised'],
      ['dry-well:pump', 'cleared'],
    ])
  })

  it('a cause that comes after its consequence is told, the consequence is not repeated, and one all-clear ends both', () => {
    const it_ = bench().run(600, tankLow)
    const since = START + 600_000
    it_.run(
      1_200,
      both(tankLow, (facts) => void Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: since, lastEndA: 2 })),
    )
    expect(it_.judge.active(it_.state).find(({ id }) => id === 'tank-low')?.explainedBy).toBe('dry-well:pump')
    it_.run(2 * 3_600)
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([
      ['tank-low:tank', 'raised'],
      ['dry-well:pump', 'raised'],
      ['dry-well:pump', 'cleared'],
    ])
  })

  it('a change of explanation is a row to store, with its word', () => {
    const it_ = bench().run(1_200, both(stoppedDry, tankLow))
    const words = it_.outcomes.flatMap(({ changes }) => changes.map(({ alarm, because }) => [alarm.key, because]))
    expect(words).toContainEqual(['tank-low:tank', 'explained'])
  })

  it('a pump that cannot start after its battery failed is not told again when the battery recovers and it starts', () => {
    const it_ = bench().run(1_800, both(called, batteryLow))
    it_.run(300, called)
    it_.run(3_600, (facts, at) => void running(facts, at - 10 * LOOK_MS))
    expect(it_.told.map(({ key, reason }) => [key, reason])).toEqual([
      ['battery-low:battery', 'raised'],
      ['battery-low:battery', 'cleared'],
    ])
  })
})

it('the table names alarms of the contract only, and none explains itself but by its siblings', () => {
  const watched = new Set<AlarmId>(ALARM_DEFINITIONS.map(({ id }) => id))
  const notYetJudged: readonly AlarmId[] = ['leak']
  for (const [cause, consequence] of explanationTable(ALARM_DEFINITIONS)) {
    expect(watched.has(cause) || notYetJudged.includes(cause), `${cause} explains ${consequence}`).toBe(true)
    if (cause !== consequence) continue
    const definition = ALARM_DEFINITIONS.find(({ id }) => id === cause)
    expect(definition?.explainedBy.find(({ by }) => by === cause)?.withinMs).toBeGreaterThan(0)
  }
})

it('explanations never run in a circle, whatever the table says', () => {
  const circle: Readonly<Partial<Record<AlarmId, readonly Explainer[]>>> = {
    overfill: [{ by: 'no-rise' }],
    'fill-long': [{ by: 'overfill' }],
    'no-rise': [{ by: 'fill-long' }],
  }
  const [base] = ALARM_DEFINITIONS
  if (base === undefined) throw new Error('no alarms')
  const table: Table = {
    definitionOf: (id): AlarmDefinition => ({ ...base, id, explainedBy: circle[id] ?? [] }),
    boardOf: () => null,
  }
  const words = { title: '', what: '', causes: [], action: '', ifIgnored: '', caution: null, timeLeft: null }
  const entries = (['overfill', 'fill-long', 'no-rise'] as const).map(
    (id, i): Entry => ({
      ...newEntry(id, 'x'),
      occurrence: {
        since: START,
        raised: START + i,
        cleared: null,
        priority: 'high',
        cause: '',
        evidence: [],
        words,
        acknowledgedBy: null,
        acknowledgedAt: null,
      },
    }),
  )
  for (let round = 0; round < 3; round += 1) {
    for (const entry of entries)
      entry.explainedBy = findCause(entry, entries, table, START + 10)?.key ?? entry.explainedBy
  }
  expect(entries.filter(({ explainedBy }) => explainedBy === null)).toHaveLength(1)
})
