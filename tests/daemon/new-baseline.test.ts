/** A new baseline by POST /api/journal: counted from its own instant, and again whenever the past is derived anew. */
import { randomBytes } from 'node:crypto'
import { describe, expect, it } from 'vitest'
import type { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { createBacktestDesk } from '../../src/daemon/backtest-desk.js'
import { createSizingDesk } from '../../src/daemon/sizing-desk.js'
import { createSource } from '../../src/daemon/source.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import { DAY, HOUR, type Ms, SECOND } from '../../src/model/time.js'
import type { Store } from '../../src/record/store.js'
import { createApp } from '../../src/show/app.js'
import { createTeller } from '../../src/tell/teller.js'
import { captureOf, freshStore, lineOf, LOG, siteOf, START } from './support.js'

const site = siteOf('juniper')
const capture = captureOf({ site: 'juniper', days: 3, guests: [{ fromDay: 0, toDay: 3, people: 4 }] }, 3)
const WRITTEN: Ms = START + 1.5 * DAY
const END: Ms = START + 3 * DAY + HOUR

function pageOf(line: Line, store: Store, now: () => Ms) {
  const clock = { now, monotonic: now, chance: () => 0.5, after: () => () => {} }
  const teller = createTeller({ store, sites: [site], ways: new Map(), clock, log: LOG, after: () => () => {} })
  const nothing = () => []
  const linkSecret = new Uint8Array(32)
  const desk = createSizingDesk({ store, clock, stateOf: () => null })
  const trials = createBacktestDesk({ store, clock })
  const source = createSource({
    line,
    store,
    teller,
    clock,
    linkSecret,
    desk,
    trials,
    health: nothing,
    metrics: nothing,
  })
  const onError = (error: unknown): void => {
    throw error
  }
  const broker = { kind: 'embedded' as const, host: '127.0.0.1', port: 1883, tls: false, anonymous: true }
  return createApp({ source, access: 'open', randomBytes, tls: null, broker, pageDir: null, version: '0.0.0', onError })
}

const trendOf = (line: Line) => line.sites[0]?.state.trend

describe('a new baseline written on the page', () => {
  it('puts aside what was learned, and stays where it was written when all is derived again', async () => {
    const store = freshStore()
    const { line } = lineOf(site, { store })
    let now = WRITTEN
    const app = pageOf(line, store, () => now)
    await drive(
      line,
      capture.filter(({ at }) => at < WRITTEN),
    )
    const before = (await app.inject('/api/usual')).json()
    expect(before.complete_fills).toBeGreaterThanOrEqual(2)
    expect(before.figures.length).toBeGreaterThan(8)
    expect(before.yield.base_fills).toBe(before.complete_fills)

    const answer = await app.inject({
      method: 'POST',
      url: '/api/journal',
      headers: { 'x-sightglass-act': '1' },
      payload: { text: 'new pump', new_baseline: true },
    })
    expect(answer.statusCode, answer.body).toBe(201)
    for (now += 15 * SECOND; line.sites[0]?.goingBack === true; now += 15 * SECOND) line.step(now, () => DAEMON_WELL)
    line.step(now, () => DAEMON_WELL)
    const after = (await app.inject('/api/usual')).json()
    expect(after).toMatchObject({ complete_fills: 0, suggestion: null })
    expect(after.figures.filter((one: { rests_on: number | null }) => one.rests_on !== null)).toEqual([])
    expect(after.yield).toMatchObject({ direction: 'learning', base: null })

    await drive(
      line,
      capture.filter(({ at }) => at >= WRITTEN),
    )
    line.finish(END)
    const learned = structuredClone(trendOf(line))
    expect(learned?.baseline?.fills).toBeGreaterThan(0)
    expect(learned?.baseline?.from).toBeGreaterThan(WRITTEN - 2 * HOUR)

    // As `recompute` does it: from the first sample on, in a program that knows only the store.
    const { line: again } = lineOf(site, { store })
    again.sites[0]?.deriveAgain(0, END, () => {})
    expect(trendOf(again)).toEqual(learned)
    await app.close()
  })
})
