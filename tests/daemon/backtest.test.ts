/** Days of Juniper Bench in a store, and what other settings would have said of them. */
import { createHash } from 'node:crypto'
import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { parseFault } from '../../simulators/fault.js'
import { simulate } from '../../simulators/simulate.js'
import { backtest, type SiteBacktest } from '../../src/daemon/backtest.js'
import { compare, pair, type Said } from '../../src/daemon/backtest-compare.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import type { Arrival } from '../../src/model/sample.js'
import type { AlarmSettings, SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { openStore, type Store } from '../../src/record/store.js'
import { settingsOf } from '../scenario/detection/run-case.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
const START = Date.UTC(2026, 4, 4, 7)
const DAYS = 1.5
const FOREVER = Number.MAX_SAFE_INTEGER

/** On the second day the tank runs out within hours, until somebody finds the open tap. */
function* lived(): Generator<Arrival> {
  const faults = [parseFault('tank-low:middle@12h+4h', START)]
  const { messages } = simulate({ site: 'juniper', seed: 5, startMs: START, days: DAYS, people: 6, faults })
  for (const { at, topic, payload } of messages) yield { at, topic, payload: Buffer.from(payload), retain: false }
}

const folder = mkdtempSync(join(tmpdir(), 'sightglass-backtest-'))
const file = join(folder, 'juniper.db')
const site = settingsOf('juniper')
let store: Store

function hashes(): Readonly<Record<string, string>> {
  return Object.fromEntries(
    // The shared-memory file is SQLite's own scratch: it counts who reads.
    readdirSync(folder)
      .filter((name) => !name.endsWith('-shm'))
      .map((name) => [
        name,
        createHash('sha256')
          .update(readFileSync(join(folder, name)))
          .digest('hex'),
      ]),
  )
}

function withAlarm(id: 'tank-low', set: Partial<AlarmSettings>): SiteSettings {
  const nothing: AlarmSettings = { enabled: null, priority: null, onDelayS: null, offDelayS: null, numbers: {} }
  return { ...site, alarms: { ...site.alarms, [id]: { ...nothing, ...set } } }
}

function withReserve(reserveL: number): SiteSettings {
  if (site.tank === null) throw new Error('juniper has no tank')
  return { ...site, tank: { ...site.tank, reserveL } }
}

async function tried(other: SiteSettings, from = 0, to = FOREVER): Promise<SiteBacktest> {
  const [found] = await backtest(store, [site], [other], from, to)
  if (found === undefined) throw new Error('nothing was compared')
  return found
}

beforeAll(async () => {
  const own = openStore({ file, now: START })
  const line = new Line({ sites: [site], store: own, log: LOG, judging: true, link: () => null })
  await drive(line, lived(), { commitMessages: 500 })
  own.close()
  store = openStore({ file, now: START, readOnly: true })
})
afterAll(() => {
  store.close()
  rmSync(folder, { recursive: true, force: true })
})

describe('backtest', () => {
  it('of the same configuration finds no change, and the alarms that were really raised', async () => {
    const found = await tried(site)
    expect(found.changes).toEqual([])
    expect(found.alarms.same).toBe(found.alarms.configured)
    expect(found.alarms.configured).toBeGreaterThanOrEqual(1)
    expect(found.stored).toMatchObject({ alarms: found.alarms.configured, again: found.alarms.configured })
    expect([...found.stored.onlyStored, ...found.stored.onlyAgain]).toEqual([])
    expect(found.messages.proposed).toBe(found.messages.configured)
  })

  it('tells an alarm that comes earlier with a higher limit, by how much, and the alarm of that time', async () => {
    const { changes } = await tried(withReserve(500))
    const moved = changes.find(({ change, key }) => change === 'earlier' && key.startsWith('tank-low'))
    expect(moved?.byMs).toBeLessThan(-MINUTE)
    expect(moved?.byMs).toBe((moved?.proposed?.raised ?? 0) - (moved?.configured?.raised ?? 0))
    expect(moved?.stored?.raised).toBe(moved?.configured?.raised)
  })

  it('tells an alarm that comes later with a longer delay', async () => {
    const { changes } = await tried(withAlarm('tank-low', { onDelayS: 1_800 }))
    expect(changes.filter(({ key }) => key.startsWith('tank-low'))).toMatchObject([{ change: 'later' }])
    expect(changes[0]?.byMs).toBeGreaterThan(20 * MINUTE)
  })

  it('tells an alarm that is gone: switched off, or never past its limit for long enough', async () => {
    for (const other of [withAlarm('tank-low', { enabled: false }), withAlarm('tank-low', { onDelayS: 86_400 })]) {
      const { changes } = await tried(other)
      expect(changes.filter(({ key }) => key.startsWith('tank-low'))).toMatchObject([
        { change: 'gone', proposed: null, byMs: null },
      ])
    }
  })

  it('tells an alarm that is added', async () => {
    const [before, after] = [await tried(site), await tried(withReserve(1_088))]
    const added = after.changes.filter(({ change }) => change === 'added')
    expect(added.length).toBeGreaterThan(0)
    expect(added.every(({ key, configured, stored }) => key.startsWith('tank-low') && !configured && !stored)).toBe(
      true,
    )
    expect(after.alarms.proposed).toBeGreaterThan(before.alarms.proposed)
  })

  it('tells an alarm that is as early, but otherwise urgent', async () => {
    const { changes } = await tried(withAlarm('tank-low', { priority: 'medium' }))
    expect(changes.find(({ key }) => key.startsWith('tank-low'))).toMatchObject({
      change: 'priority',
      configured: { priority: 'high' },
      proposed: { priority: 'medium' },
    })
  })

  it('compares only what was raised between from and to, and has learned from all before', async () => {
    const all = await tried(withAlarm('tank-low', { enabled: false }))
    const gone = all.changes[0]?.configured?.raised ?? 0
    const before = await tried(withAlarm('tank-low', { enabled: false }), 0, gone)
    const from = await tried(withAlarm('tank-low', { enabled: false }), gone, gone + 1)
    expect(before.changes).toEqual([])
    expect(from.changes).toMatchObject([{ change: 'gone', configured: { raised: gone } }])
    expect(from.learnedFrom).toBe(all.learnedFrom)
    expect(from.alarms.configured).toBe(1)
  })

  it('says of which signals nothing is stored, and that boards are read in another way', async () => {
    const [board, ...boards] = site.boards
    const signal = board?.signals[0]
    if (board === undefined || signal === undefined) throw new Error('juniper has no board')
    const changed = { ...signal, scale: 2 }
    const added = { ...signal, key: 'humidity.attic' as const, role: 'humidity' as const, name: 'humidity' }
    const other = { ...site, boards: [{ ...board, signals: [changed, ...board.signals.slice(1), added] }, ...boards] }
    const found = await tried(other)
    expect(found.signalsUnknown).toEqual(['humidity.attic'])
    expect(found.boardsDiffer).toBe(true)
    expect(found.changes).toEqual([])
  })

  it('changes no byte of the store, gives others their turn, and stops when it is told to', async () => {
    const before = hashes()
    expect(Object.keys(before)).toContain('juniper.db')
    let pieces = 0
    await backtest(store, [site], [withReserve(500)], 0, FOREVER, {
      eachPiece: () => {
        pieces += 1
      },
    })
    expect(pieces).toBeGreaterThanOrEqual((DAYS * DAY) / (6 * HOUR))
    const stop = backtest(store, [site], [site], 0, FOREVER, {
      eachPiece: () => {
        throw new Error('enough')
      },
    })
    await expect(stop).rejects.toThrow('enough')
    expect(hashes()).toEqual(before)
  })
})

describe('the comparison of two runs', () => {
  const said = (key: string, fromH: number, toH: number | null): Said => ({
    key,
    id: 'tank-low',
    subject: 'tank',
    priority: 'high',
    since: fromH * HOUR,
    raised: fromH * HOUR,
    cleared: toH === null ? null : toH * HOUR,
    cause: 'low',
    title: '',
    explainedBy: null,
    told: true,
  })

  it('pairs spells that overlap or nearly touch, each with one at most, and only of the same alarm', () => {
    const ours = [said('a', 1, 2), said('a', 10, 11), said('b', 1, 2)]
    const theirs = [said('a', 2.5, 3), said('a', 20, 21), said('c', 1, 2)]
    const keys = pair(ours, theirs).map(([one, other]) => [one?.raised ?? null, other?.raised ?? null])
    expect(keys).toEqual([
      [1 * HOUR, 2.5 * HOUR],
      [10 * HOUR, null],
      [null, 20 * HOUR],
      [1 * HOUR, null],
      [null, 1 * HOUR],
    ])
  })

  it('takes one long spell for the first of several short ones: the others are gone', () => {
    const ours = [said('a', 1, 2), said('a', 3, 4), said('a', 5, 6)]
    const { changes, same } = compare(ours, [said('a', 1, null)], 0, DAY)
    expect(same).toBe(1)
    expect(changes.map(({ change }) => change)).toEqual(['gone', 'gone'])
  })

  it('takes in an alarm that either run raised in the span', () => {
    const { changes } = compare([said('a', 1, 4)], [said('a', 3, 4)], 2 * HOUR, DAY)
    expect(changes).toMatchObject([{ change: 'later', byMs: 2 * HOUR }])
  })
})
