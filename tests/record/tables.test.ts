import Database from 'better-sqlite3'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import type { Day, FillCycle } from '../../src/model/fill.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR } from '../../src/model/time.js'
import { folder, MIDNIGHT, NOON, open } from './support.js'

const CYCLE: FillCycle = {
  start: NOON,
  end: NOON + HOUR,
  durationS: 3_600,
  durationSdS: 7,
  volumeL: { value: 812.5, sd: 11 },
  energyWh: null,
  flowLMin: { value: 13.5, sd: 0.2 },
  whPerL: null,
  currentMeanA: 4.5,
  voltageMeanV: null,
  voltageMinV: 24.1,
  levelStartM: 0.4,
  levelEndM: 1.2,
  firstRiseS: null,
  endReason: 'power-lost',
  complete: false,
}

const A_DAY: Day = {
  date: '2026-01-15',
  start: MIDNIGHT,
  end: MIDNIGHT + DAY,
  pumpedL: { value: 900, sd: 12 },
  usedL: null,
  fills: 2,
  runS: 4_000,
  pumpWh: { value: 300, sd: 4 },
  whPerL: { value: 0.33, sd: 0.01 },
  batteryMinV: 24.2,
  batteryMaxV: null,
  harvestWh: null,
  airMinC: -8,
  airMaxC: 3,
  covered: 0.97,
}

const ALARM: Alarm = {
  key: 'dry-well:pump',
  id: 'dry-well',
  subject: 'pump',
  priority: 'high',
  state: 'unacknowledged',
  since: NOON - 60_000,
  raised: NOON,
  cleared: null,
  cause: 'the well is empty',
  evidence: [{ label: 'current', quantity: 'current', value: 2.9, usual: 6.1 }],
  words: {
    title: 'The well has run dry',
    what: 'No water since 12:00.',
    causes: ['the well is empty'],
    action: 'Let it rest.',
    ifIgnored: 'The pump overheats.',
    caution: null,
    timeLeft: '2 h',
  },
  acknowledgedBy: null,
  acknowledgedAt: null,
  shelvedUntil: null,
  shelveReason: null,
  explainedBy: null,
  raisesInDay: 1,
}

describe('fill cycles', () => {
  it('come back as they were, unknown figures unknown, kept apart by site', () => {
    const store = open()
    store.cycles.put('juniper', CYCLE)
    expect(store.cycles.list('juniper', 0, NOON + 1)).toEqual([CYCLE])
    expect(store.cycles.list('fern', 0, NOON + 1)).toEqual([])
    store.cycles.put('juniper', { ...CYCLE, endReason: 'full', complete: true })
    expect(store.cycles.list('juniper', 0, NOON + 1)).toEqual([{ ...CYCLE, endReason: 'full', complete: true }])
  })

  it('are listed by start, the newest of too many, and dropped by end', () => {
    const store = open()
    for (let i = 0; i < 10; i++)
      store.cycles.put('juniper', { ...CYCLE, start: NOON + i * DAY, end: NOON + i * DAY + HOUR })
    const starts = (from: number, to: number, limit?: number) =>
      store.cycles.list('juniper', NOON + from * DAY, NOON + to * DAY, limit).map(({ start }) => (start - NOON) / DAY)
    expect(starts(2, 5)).toEqual([2, 3, 4])
    expect(starts(0, 99, 3)).toEqual([7, 8, 9])
    expect(store.cycles.dropAfter('juniper', NOON + 7 * DAY + HOUR)).toBe(2)
    expect(store.cycles.dropAfter('fern', 0)).toBe(0)
    expect(starts(0, 99)).toEqual([0, 1, 2, 3, 4, 5, 6, 7])
  })
})

describe('days', () => {
  it('come back as they were, by date with both ends, and are dropped from a date on', () => {
    const store = open()
    for (const date of ['2026-01-14', '2026-01-15', '2026-01-16', '2026-02-01'])
      store.days.put('juniper', { ...A_DAY, date })
    expect(store.days.list('juniper', '2026-01-15', '2026-01-15')).toEqual([A_DAY])
    expect(store.days.list('juniper', '2026-01-15', '2026-02-01').map(({ date }) => date)).toEqual([
      '2026-01-15',
      '2026-01-16',
      '2026-02-01',
    ])
    expect(store.days.dropFrom('juniper', '2026-01-16')).toBe(2)
    expect(store.days.list('juniper', '2000-01-01', '2100-01-01')).toHaveLength(2)
  })
})

describe('alarms', () => {
  it('are active until they are cleared and nobody is waited for', () => {
    const store = open()
    const states = (state: Alarm['state'], cleared: number | null) => {
      store.alarms.put('juniper', { ...ALARM, state, cleared })
      return store.alarms.active('juniper')
    }
    expect(states('unacknowledged', null)).toEqual([ALARM])
    expect(states('returned-unacknowledged', NOON + HOUR)).toHaveLength(1)
    expect(states('latched', NOON + HOUR)).toHaveLength(1)
    expect(states('normal', NOON + HOUR)).toEqual([])
    expect(store.alarms.active('fern')).toEqual([])
  })

  it('are one row for each occurrence', () => {
    const store = open()
    store.alarms.put('juniper', ALARM)
    store.alarms.put('juniper', { ...ALARM, acknowledgedBy: 'owner', acknowledgedAt: NOON + 5 })
    store.alarms.put('juniper', { ...ALARM, raised: NOON + DAY })
    expect(store.alarms.list('juniper', 0, NOON + 2 * DAY).map(({ raised }) => raised)).toEqual([NOON, NOON + DAY])
    expect(store.alarms.list('juniper', NOON, NOON + 1)[0]?.acknowledgedBy).toBe('owner')
    expect(store.alarms.latest('juniper', ALARM.key)?.raised).toBe(NOON + DAY)
    expect(store.alarms.latest('juniper', 'leak:tank')).toBeNull()
  })

  it('that were changed by hand into nonsense are named instead of believed', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    store.alarms.put('juniper', ALARM)
    store.close()
    const db = new Database(file)
    db.exec(`UPDATE alarm SET evidence = '[{"label": 3}]'`)
    db.close()
    expect(() => open({ file }).alarms.active('juniper')).toThrow(/alarm dry-well:pump[\s\S]*evidence/)
  })
})

describe('the state of the judge', () => {
  it('is one text a site', () => {
    const store = open()
    expect(store.judge.load('juniper')).toBeNull()
    store.judge.save('juniper', NOON, '{"a":1}')
    store.judge.save('juniper', NOON + 15_000, '{"a":2}')
    expect(store.judge.load('juniper')).toEqual({ at: NOON + 15_000, text: '{"a":2}' })
    expect(store.judge.load('fern')).toBeNull()
  })
})

describe('engine snapshots', () => {
  it('are found at or strictly before an instant and dropped from one on', () => {
    const store = open()
    for (let i = 0; i < 5; i++) store.snapshots.put('juniper', MIDNIGHT + i * HOUR, `state ${i} ✓`)
    expect(store.snapshots.latest('juniper', null)).toEqual({ at: MIDNIGHT + 4 * HOUR, text: 'state 4 ✓' })
    expect(store.snapshots.latest('juniper', MIDNIGHT + 4 * HOUR)?.text).toBe('state 3 ✓')
    expect(store.snapshots.dropFrom('juniper', MIDNIGHT + 2 * HOUR)).toBe(3)
    expect(store.snapshots.latest('juniper', null)?.text).toBe('state 1 ✓')
    expect(store.snapshots.latest('juniper', MIDNIGHT)).toBeNull()
    expect(store.snapshots.latest('fern', null)).toBeNull()
  })

  it('are kept hourly for three days and daily for sixty', () => {
    const store = open()
    const hours = 24 * 90
    for (let i = 0; i < hours; i++) store.snapshots.put('juniper', MIDNIGHT + i * HOUR, String(i))
    const kept: number[] = []
    let before: number | null = null
    for (;;) {
      const snapshot = store.snapshots.latest('juniper', before)
      if (snapshot === null) break
      kept.push(hours - 1 - Number(snapshot.text))
      before = snapshot.at
    }
    expect(kept.slice(0, 73)).toEqual(Array.from({ length: 73 }, (_, i) => i))
    expect(kept.slice(73).every((age) => (hours - 1 - age) % 24 === 0)).toBe(true)
    expect(kept.at(-1)).toBeGreaterThan(24 * 58)
    expect(kept.at(-1)).toBeLessThanOrEqual(24 * 60)
    expect(kept.length).toBeLessThan(140)
  })
})

describe('the service log and what people have set', () => {
  it('keeps entries with their ids, by time', () => {
    const store = open()
    const entry = { site: 'juniper', at: NOON, by: 'owner', text: 'changed the filter', newBaseline: false }
    const second = store.journal.add({ ...entry, at: NOON + DAY, newBaseline: true })
    const first = store.journal.add(entry)
    expect(first.id).not.toBe(second.id)
    expect(store.journal.list('juniper', NOON, NOON + 2 * DAY)).toEqual([first, second])
    expect(store.journal.list('juniper', NOON, NOON + DAY)).toEqual([first])
  })

  it('changes only the modes that are named', () => {
    const store = open()
    expect(store.modes.get('juniper')).toEqual({ away: null, winterized: null, maintenanceUntil: null })
    store.modes.set('juniper', { away: true })
    expect(store.modes.set('juniper', { maintenanceUntil: NOON })).toEqual({
      away: true,
      winterized: null,
      maintenanceUntil: NOON,
    })
    store.modes.set('juniper', { away: null, winterized: false })
    expect(store.modes.get('juniper')).toEqual({ away: null, winterized: false, maintenanceUntil: NOON })
  })

  it('makes a secret once and gives the same ever after', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    const made = store.secret('links')
    expect(made).toHaveLength(32)
    expect(store.secret('other').equals(made)).toBe(false)
    store.close()
    expect(open({ file }).secret('links').equals(made)).toBe(true)
  })
})

describe('refusals and messages kept aside', () => {
  const refusal = { reason: 'unit', board: 'tank-board', at: NOON, example: 'K' } as const

  it('are counted by reason and board, before the commit and after', () => {
    const file = join(folder(), 'a.db')
    const store = open({ file })
    store.noteRefusal('juniper', refusal)
    store.noteRefusal('juniper', { ...refusal, at: NOON + 9, example: 'x'.repeat(999) })
    store.commit()
    store.noteRefusal('juniper', { ...refusal, at: NOON - 9, example: 'F' })
    store.noteRefusal('juniper', { ...refusal, reason: 'sentinel' })
    const expected = [
      { reason: 'unit', board: 'tank-board', count: 3, first: NOON - 9, last: NOON + 9, example: 'F' },
      { reason: 'sentinel', board: 'tank-board', count: 1, first: NOON, last: NOON, example: 'K' },
    ]
    expect(store.refusals('juniper')).toEqual(expected)
    store.commit()
    store.close()
    expect(open({ file }).refusals('juniper')).toEqual(expect.arrayContaining(expected))
  })

  it('are bounded in rows when names of boards come from anyone, and still counted', () => {
    const store = open()
    const many = LIMITS.refusalRowsMax * 3
    for (let i = 0; i < many; i++) store.noteRefusal('juniper', { ...refusal, board: `b${i}` })
    store.commit()
    const rows = store.refusals('juniper')
    expect(rows).toHaveLength(LIMITS.refusalRowsMax + 1)
    expect(rows.reduce((n, { count }) => n + count, 0)).toBe(many)
  })

  it('keeps the newest unreadable messages of each site', () => {
    const store = open()
    const aside = { site: 'juniper', board: '', topic: 'water/x', reason: 'not-senml', payload: Buffer.from([0, 255]) }
    for (let i = 0; i < LIMITS.keptAsideMax + 30; i++) {
      store.keepAside({ ...aside, at: i })
      if (i % 7 === 0) store.commit()
    }
    store.keepAside({ ...aside, site: 'fern', at: 1 })
    store.commit()
    const kept = store.keptAside('juniper')
    expect(kept).toHaveLength(LIMITS.keptAsideMax)
    expect([kept[0]?.at, kept.at(-1)?.at]).toEqual([LIMITS.keptAsideMax + 29, 30])
    expect(Array.from(kept[0]?.payload ?? [])).toEqual([0, 255])
    expect(store.keptAside('fern')).toHaveLength(1)
  })
})
