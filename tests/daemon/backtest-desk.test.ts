/** Another setting is tried over what is stored: from what had been learned, in short pieces, one at a time. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { parseFault } from '../../simulators/fault.js'
import { simulate } from '../../simulators/simulate.js'
import { type BacktestDesk, BacktestBusy, createBacktestDesk } from '../../src/daemon/backtest-desk.js'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import type { Arrival } from '../../src/model/sample.js'
import { ALARM_SPECS } from '../../src/model/alarm-settings.js'
import { DAY, HOUR, type Ms } from '../../src/model/time.js'
import { openStore, type Store } from '../../src/record/store.js'
import { settingsOf } from '../scenario/detection/run-case.js'

const LOG = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
const START = Date.UTC(2026, 4, 4, 7)
const DAYS = 1.5
const site = settingsOf('juniper')
let store: Store

/** On the second day the tank runs out within hours, until somebody finds the open tap. */
function* lived(): Generator<Arrival> {
  const faults = [parseFault('tank-low:middle@12h+4h', START)]
  const { messages } = simulate({ site: 'juniper', seed: 5, startMs: START, days: DAYS, people: 6, faults })
  for (const { at, topic, payload } of messages) yield { at, topic, payload: Buffer.from(payload), retain: false }
}

beforeAll(async () => {
  store = openStore({ file: ':memory:', now: START })
  const line = new Line({ sites: [site], store, log: LOG, judging: true, link: () => null })
  await drive(line, lived(), { commitMessages: 500 })
})
afterAll(() => store.close())

type Bench = {
  readonly desk: BacktestDesk
  readonly drain: () => void
  readonly pieces: number[]
  readonly waits: number[]
}

function bench(now: Ms): Bench {
  const due: (() => void)[] = []
  const pieces: number[] = []
  const waits: number[] = []
  const clock = {
    now: () => now,
    monotonic: () => performance.now(),
    chance: () => 0.5,
    after: (ms: number, run: () => void) => {
      due.push(run)
      waits.push(ms)
      return () => void due.splice(due.indexOf(run), 1)
    },
  }
  const drain = (): void => {
    for (let next = due.shift(); next !== undefined; next = due.shift()) {
      const began = performance.now()
      next()
      pieces.push(performance.now() - began)
    }
  }
  return { desk: createBacktestDesk({ store, clock }), drain, pieces, waits }
}

const ASK = { alarm: 'tank-low', settings: { on_delay: 2 * 3_600 } } as const

describe('the desk that tries settings', () => {
  it('says that an alarm would have come later, and one that needs a day would not have come', async () => {
    const one = bench(START + 2 * DAY)
    const later = one.desk.ask(site, ASK)
    one.drain()
    const answer = await later
    expect(answer).toMatchObject({ learned: false })
    expect(answer.from - START).toBeLessThan(60_000)
    const change = answer.changes.find(({ key }) => key.startsWith('tank-low'))
    expect(change?.change).toBe('later')
    expect((change?.proposed ?? 0) - (change?.configured ?? 0)).toBeGreaterThan(HOUR)
    const never = one.desk.ask(site, { ...ASK, settings: { on_delay: 86_400 } })
    one.drain()
    expect((await never).changes.find(({ key }) => key.startsWith('tank-low'))).toMatchObject({
      change: 'gone',
      proposed: null,
    })
  })

  it('finds no change in the settings as they are', async () => {
    const one = bench(START + 2 * DAY)
    expect(site.alarms['tank-low']).toBeUndefined()
    const asked = one.desk.ask(site, { ...ASK, settings: { on_delay: ALARM_SPECS['tank-low'].onDelayS } })
    one.drain()
    const { alarms, changes } = await asked
    expect(changes).toEqual([])
    expect(alarms.same).toBeGreaterThan(0)
    expect(alarms.same).toBe(alarms.configured)
  })

  it('begins with the newest stored state before the span, not with the first sample', async () => {
    const one = bench(START + 30 * DAY + 8.5 * HOUR)
    const asked = one.desk.ask(site, ASK)
    one.drain()
    const answer = await asked
    expect(answer.from).toBe(START + 8.5 * HOUR)
    expect(answer.learned).toBe(true)
    expect(answer.runFrom).toBeGreaterThan(START)
    expect(answer.runFrom).toBeLessThanOrEqual(answer.from)
    expect(answer.changes.map(({ change }) => change)).toContain('later')
  })

  it('works in pieces under 200 ms, with a pause as long as each', async () => {
    const one = bench(START + 2 * DAY)
    const asked = one.desk.ask(site, ASK)
    one.drain()
    await asked
    expect(one.pieces.length).toBeGreaterThan(DAYS * 24)
    // A machine that is busy with other things may stretch one of them: the second longest counts.
    const [, second = Number.POSITIVE_INFINITY] = one.pieces.toSorted((a, b) => b - a)
    expect(second).toBeLessThan(200)
    const spent = one.pieces.reduce((sum, ms) => sum + ms, 0)
    expect(one.waits.reduce((sum, ms) => sum + ms, 0)).toBeGreaterThan(0.5 * spent)
  })

  it('refuses a second while one is worked on, and takes it after', async () => {
    const one = bench(START + 2 * DAY)
    const first = one.desk.ask(site, ASK)
    await expect(one.desk.ask(site, ASK)).rejects.toThrow(BacktestBusy)
    one.drain()
    await first
    const again = one.desk.ask(site, ASK)
    one.desk.stop()
    await expect(again).rejects.toThrow('stops')
  })
})
