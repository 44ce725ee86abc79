import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { afterAll, describe, expect, it } from 'vitest'
import type { Fault } from '../../simulators/fault.js'
import type { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import type { FillCycle } from '../../src/model/fill.js'
import type { Arrival } from '../../src/model/sample.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import { openStore, type Store } from '../../src/record/store.js'
import {
  captureOf,
  derived,
  freshStore,
  type LineSetup,
  lineOf,
  live,
  resume,
  siteOf,
  START,
  stepThrough,
} from './support.js'

const RUNS = Number(process.env.RESTART_RUNS ?? 3)
const END: Ms = START + 2 * DAY + 6 * HOUR
const folder = mkdtempSync(join(tmpdir(), 'line-test-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

type Told = string[]

/** A line whose notices are written down as they are said. */
function listened(site: SiteSettings, store: Store, told: Told): Line {
  const setup: LineSetup = {
    store,
    judging: true,
    events: {
      onNotices: (_, notices) => {
        for (const { reason, alarm } of notices) told.push(`${reason} ${alarm.key} ${alarm.raised}`)
      },
    },
  }
  return lineOf(site, setup).line
}

async function undisturbed(site: SiteSettings, capture: readonly Arrival[]) {
  const store = freshStore()
  const told: Told = []
  const line = listened(site, store, told)
  await drive(line, capture)
  line.finish(END)
  return { ...derived(store, site), told }
}

/**
 * The same capture through a line that is dropped without a word at each cut, and begun anew on what is in the store:
 * the last messages are committed by then, but nothing has been derived from them.
 */
async function withCuts(
  site: SiteSettings,
  capture: readonly Arrival[],
  cuts: readonly Ms[],
  reopen: (store: Store) => Store,
) {
  let store = reopen(freshStore())
  const told: Told = []
  let line = listened(site, store, told)
  let rest = capture
  let begun = capture[0]?.at ?? 0
  for (const cut of cuts) {
    const n = rest.findIndex((arrival) => arrival.at >= cut)
    stepThrough(line, begun, (rest[0]?.at ?? 0) - 1)
    live(line, n < 0 ? rest : rest.slice(0, n))
    rest = n < 0 ? [] : rest.slice(n)
    store = reopen(store)
    line = listened(site, store, told)
    resume(line, cut)
    // Half of the way back, and cut again.
    line.step(cut, () => DAEMON_WELL, 200)
    store = reopen(store)
    line = listened(site, store, told)
    resume(line, cut)
    begun = cut
  }
  stepThrough(line, begun, (rest[0]?.at ?? 0) - 1)
  await drive(line, rest)
  line.finish(END)
  return { ...derived(store, site), told }
}

const same = (store: Store): Store => store

/**
 * All but the site's silence: how long an outage lasted is known only to who lived through it, since the backlog fills
 * the gap in the data. A daemon that was killed at its end knows a shorter one, and is patient for less long.
 */
function watched(told: Told): Told {
  return told.filter((one) => !one.includes('site-silent'))
}

const GUESTS = [{ fromDay: 0, toDay: 2, people: 4 }]
const PATCHY = { outagesPerDay: 3, outageLongestMin: 120 }
const DRY: Fault = { kind: 'dry-well', severity: 'middle', startMs: START + 10 * HOUR, endMs: START + 20 * HOUR }
const PROBE: Fault = { kind: 'probe-fouled', severity: 'middle', startMs: START + 20 * HOUR, endMs: START + 30 * HOUR }

describe.each([
  { id: 'juniper', fault: DRY, tells: 'raised fill-long:pump' },
  { id: 'fern', fault: PROBE, tells: 'raised sensor-suspect' },
] as const)('at $id, killed and started again', ({ id, fault, tells }) => {
  const site = siteOf(id)
  const capture = captureOf({ site: id, days: 2, guests: GUESTS, link: PATCHY, faults: [fault] }, 6)

  it('at any instants: fills and days are the same, and everything is told once', async () => {
    const whole = await undisturbed(site, capture)
    expect(whole.fills).toBeGreaterThanOrEqual(3)
    expect(whole.told.filter((one) => one.startsWith(tells)).length).toBeGreaterThanOrEqual(1)
    // Some cuts fall just after boards have sent what they had kept: it is stored, and nothing derived from it yet.
    const afterOutage = capture.filter(({ at }, i) => at - (capture[i - 1]?.at ?? at) > 5 * MINUTE).map(({ at }) => at)
    const anywhere = fc.integer({ min: 0, max: 2 * DAY }).map((after) => START + after)
    const flushed = fc
      .tuple(fc.constantFrom(...afterOutage), fc.integer({ min: 1, max: 40_000 }))
      .map(([at, more]) => at + more)
    const cutsOf = fc
      .uniqueArray(fc.oneof(anywhere, flushed), { minLength: 1, maxLength: 4 })
      .map((cuts) => cuts.sort((a, b) => a - b))
    await fc.assert(
      fc.asyncProperty(cutsOf, async (cuts) => {
        const { told, ...found } = await withCuts(site, capture, cuts, same)
        expect({ ...found, told: watched(told) }).toEqual({ ...whole, told: watched(whole.told) })
        expect(new Set(told).size).toBe(told.length)
      }),
      { numRuns: RUNS },
    )
  })
})

it('in the middle of a fill, with the store closed and opened again from its file, the fill is whole', async () => {
  const site = siteOf('fern')
  const capture = captureOf({ site: 'fern', days: 0.7, guests: GUESTS }, 6)
  const whole = await undisturbed(site, capture)
  const first: FillCycle = JSON.parse(whole.cycles)[0]
  const reopen = (store: Store): Store => {
    store.close()
    return openStore({ file: join(folder, 'fern.db'), now: START })
  }
  const found = await withCuts(site, capture, [first.start + 17 * MINUTE, first.end + MINUTE], reopen)
  expect(found).toEqual(whole)
  expect(first.endReason).toBe('full')
})
