import { describe, expect, it } from 'vitest'
import type { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { createSource } from '../../src/daemon/source.js'
import { FINISH_AFTER_MS } from '../../src/infer/fill.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import { LIMITS } from '../../src/model/limits.js'
import type { FillCycle } from '../../src/model/fill.js'
import type { Arrival } from '../../src/model/sample.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../src/model/time.js'
import { StoreError } from '../../src/record/store-error.js'
import type { Store } from '../../src/record/store.js'
import { createTeller } from '../../src/tell/teller.js'
import { captureOf, derived, freshStore, lineOf, live, LOG, resume, siteOf, START, stepThrough } from './support.js'

const GUESTS = [{ fromDay: 0, toDay: 4, people: 4 }]
const END: Ms = START + 2 * DAY + 6 * HOUR

async function inOrder(site: SiteSettings, capture: readonly Arrival[], store = freshStore()) {
  const { line } = lineOf(site, { store })
  await drive(line, capture)
  line.finish(END)
  return derived(store, site)
}

function fillsOf(found: { readonly cycles: string }): readonly FillCycle[] {
  return JSON.parse(found.cycles)
}

describe('messages that were held back over the hour', () => {
  const site = siteOf('juniper')
  const capture = captureOf({ site: 'juniper', days: 1, guests: GUESTS }, 6)

  it('take the snapshots after them away in the commit that keeps them, and change nothing in the end', async () => {
    const whole = await inOrder(site, capture)
    const middle = fillsOf(whole)[1]?.start ?? 0
    const hour = middle - (middle % HOUR) + HOUR
    const held = capture.filter(({ at }) => at >= hour - 20 * MINUTE && at < hour + 20 * MINUTE)
    const rest = capture.filter((arrival) => !held.includes(arrival))
    const { line, store } = lineOf(site)
    const later = hour + 3 * HOUR + 40_000
    live(
      line,
      rest.filter(({ at }) => at < later),
    )
    stepThrough(line, hour + 3 * HOUR, later)
    expect(store.snapshots.latest(site.id, null)?.at).toBe(hour + 3 * HOUR)
    line.receive(held.map((arrival) => ({ ...arrival, at: later })))
    expect(line.counts.late).toBeGreaterThan(held.length)
    expect(store.snapshots.latest(site.id, null)?.at).toBe(hour - HOUR)
    await drive(
      line,
      rest.filter(({ at }) => at >= later),
    )
    line.finish(END)
    expect(derived(store, site)).toEqual(whole)
  })
})

describe('a new baseline in the service log', () => {
  const site = siteOf('juniper')
  const capture = captureOf({ site: 'juniper', days: 1.4, guests: GUESTS }, 6)
  const shuffled = capture
    .map((_, i) => capture[(i * 769) % capture.length] ?? capture[0])
    .filter((a) => a !== undefined)
  const allLate = shuffled.map((arrival, i) => ({ ...arrival, at: (capture.at(-1)?.at ?? 0) + 1_000 + 8 * i }))

  const entryAt = (at: Ms) => ({ site: site.id, at, by: 'owner', text: 'new pump', newBaseline: true })

  /** Adds the entry by the door that people use. */
  function add(line: Line, store: Store, at: Ms, now: Ms): void {
    const clock = { now: () => now, monotonic: () => now, chance: () => 0.5, after: () => () => {} }
    const teller = createTeller({ store, sites: [site], ways: new Map(), clock, log: LOG, after: () => () => {} })
    const nothing = () => []
    createSource({
      line,
      store,
      teller,
      clock,
      desk: { ask: () => Promise.reject(new Error('nobody asks')), stop: () => {} },
      trials: { ask: () => Promise.reject(new Error('nobody asks')), stop: () => {} },
      linkSecret: new Uint8Array(32),
      health: nothing,
      metrics: nothing,
    }).addJournal(entryAt(at))
  }

  /** After the look that writes the fill, and before the next reading: the look still belongs to the old baseline. */
  function justAfterTheLook(end: Ms): Ms {
    const look = Math.ceil((end + FINISH_AFTER_MS) / LIMITS.tickMs) * LIMITS.tickMs
    const at = look + 8_000
    const times = capture.map((arrival) => arrival.at)
    if (times.some((t) => t > look - 500 && t < at + 500)) throw new Error('expected no reading just after the look')
    return at
  }

  /** What was derived, and how many fills the site has learned from since. */
  function outcome(line: Line, store: Store) {
    line.finish(END)
    return { ...derived(store, site), learnedFrom: line.sites[0]?.state.completeFills }
  }

  it('counts from its own instant, whenever it is written and in whatever order the messages came', async () => {
    const [first, second, third] = fillsOf(await inOrder(site, capture))
    if (first === undefined || second === undefined || third === undefined) throw new Error('expected three fills')
    const cut = third.start - HOUR
    for (const at of [first.start + 10 * MINUTE, first.end + MINUTE, justAfterTheLook(first.end)]) {
      const noted = freshStore()
      noted.journal.add(entryAt(at))
      const { line: whole } = lineOf(site, { store: noted })
      await drive(whole, capture)
      const expected = outcome(whole, noted)

      const late = freshStore()
      late.journal.add(entryAt(at))
      const { line: lateLine } = lineOf(site, { store: late })
      await drive(lateLine, allLate)
      expect(outcome(lateLine, late)).toEqual(expected)

      for (const killed of [false, true]) {
        const { line, store } = lineOf(site)
        live(
          line,
          capture.filter((arrival) => arrival.at < cut),
        )
        add(line, store, at, cut)
        const next = killed ? lineOf(site, { store }).line : line
        if (killed) resume(next, cut)
        await drive(
          next,
          capture.filter((arrival) => arrival.at >= cut),
        )
        expect(outcome(next, store)).toEqual(expected)
      }
    }
  })

  it('puts aside what was learned: the fills before it count no more', async () => {
    const { line, store } = lineOf(site)
    await drive(line, capture)
    const before = line.sites[0]?.state.completeFills ?? 0
    expect(before).toBeGreaterThanOrEqual(2)
    add(line, store, (capture.at(-1)?.at ?? 0) - MINUTE, END)
    line.finish(END)
    expect(line.sites[0]?.state.completeFills).toBe(0)
    expect(line.sites[0]?.state.usual.flowLMin.values).toEqual([])
  })
})

/** The same place with a signal less. */
function without(site: SiteSettings, key: string): SiteSettings {
  const boards = site.boards.map((board) => ({ ...board, signals: board.signals.filter((one) => one.key !== key) }))
  return { ...site, boards }
}

describe('a configuration with other signals', () => {
  const site = siteOf('juniper')
  const changed = without(site, 'battery-temperature')

  it('does not take up the old memory: fills and days are derived anew from the stored samples', async () => {
    const capture = captureOf({ site: 'juniper', days: 2, guests: GUESTS }, 6)
    const whole = await inOrder(changed, capture)
    const cut = START + 29 * HOUR
    const store = freshStore()
    const before = lineOf(site, { store })
    live(
      before.line,
      capture.filter(({ at }) => at < cut),
    )
    expect(store.snapshots.latest(site.id, null)).not.toBeNull()
    const { line } = lineOf(changed, { store })
    resume(line, cut)
    expect(store.snapshots.latest(site.id, null)).toBeNull()
    await drive(
      line,
      capture.filter(({ at }) => at >= cut),
    )
    line.finish(END)
    expect(derived(store, site)).toEqual(whole)
  })

  it.each(['a start', 'recompute'])(
    'leaves fills and days alone whose samples have been dropped since (%s)',
    async (how) => {
      const capture = captureOf({ site: 'juniper', days: 4, guests: GUESTS }, 6)
      const store = freshStore()
      const { line } = lineOf(site, { store })
      const end = await drive(line, capture)
      while (store.sealDue(end + 2 * DAY)) store.seal(end + 2 * DAY)
      const days = store.days.list(site.id, '0000', '9999')
      const fills = store.cycles.list(site.id, 0, end)
      expect(store.prune(end, 2).blocks).toBeGreaterThan(0)
      const again = lineOf(changed, { store }).line
      if (how === 'a start') {
        resume(again, end)
        stepThrough(again, end, end + MINUTE)
        again.finish(end + MINUTE)
      } else {
        again.sites[0]?.deriveAgain(0, end, () => {})
        for (const one of again.sites) again.write(one, end)
      }
      // Samples are dropped by the UTC day, which begins at five in the afternoon here: that day keeps its old row.
      const oldDays = days.filter(({ date }) => date <= '2026-05-05')
      expect(oldDays.length).toBe(2)
      const now = store.days.list(site.id, '0000', '9999')
      expect(now.slice(0, 2)).toEqual(oldDays)
      expect(now.map(({ date }) => date).slice(0, days.length)).toEqual(days.map(({ date }) => date))
      const lastOld = oldDays[1]?.end ?? 0
      const found = store.cycles.list(site.id, 0, end)
      expect(found.filter(({ end: at }) => at < lastOld)).toEqual(fills.filter(({ end: at }) => at < lastOld))
      expect(found.length).toBe(fills.length)
    },
  )
})

describe('a store that fails while the line goes back', () => {
  const site = siteOf('fern')
  const capture = captureOf(
    { site: 'fern', days: 2, guests: GUESTS, link: { outagesPerDay: 8, outageLongestMin: 90 } },
    6,
  )

  /** The same store, whose writes or reads fail when asked to. */
  function failing(store: Store, fails: { writes: boolean; reads: number }): Store {
    return {
      ...store,
      transaction: (fn) => {
        if (fails.writes) throw new StoreError('full', 'no room on the disk')
        return store.transaction(fn)
      },
      read: (series, from, to, each) => {
        let left = fails.reads
        store.read(series, from, to, (index, t, value) => {
          if (fails.reads > 0 && --left === 0) {
            fails.reads = 0
            throw new StoreError('failed', 'a block could not be read')
          }
          each(index, t, value)
        })
      },
    }
  }

  it('tries again when it works, and ends in the same fills and days', async () => {
    const whole = await inOrder(site, capture)
    const store = freshStore()
    const fails = { writes: false, reads: 0 }
    const failed: string[] = []
    const log = { ...LOG, error: (_: object, message: string) => failed.push(message) }
    const { line } = lineOf(site, { store: failing(store, fails), log })
    let next = START + 15_000
    let broken = 0
    for (const arrival of [...capture, { ...capture.at(-1), at: END } as Arrival]) {
      for (; arrival.at >= next; next += 15_000) {
        fails.writes = Math.floor(next / (20 * MINUTE)) % 3 === 0
        if (next % (30 * MINUTE) === 0) fails.reads = 300
        try {
          line.step(next, () => DAEMON_WELL)
        } catch {
          broken += 1
        }
      }
      line.receive([arrival])
    }
    fails.writes = false
    fails.reads = 0
    line.finish(END)
    expect(broken).toBeGreaterThan(3)
    expect(failed.length).toBeGreaterThan(3)
    expect(derived(store, site)).toEqual(whole)
  })
})

describe('the days on which the clocks change', () => {
  it.each([
    ['spring', Date.UTC(2026, 2, 7, 8), '2026-03-08', 23],
    ['autumn', Date.UTC(2026, 9, 31, 7), '2026-11-01', 25],
  ])('in %s have their own length, and every fill falls in a day', async (_, startMs, date, hours) => {
    const site = siteOf('juniper')
    const capture = captureOf({ site: 'juniper', days: 3, startMs, guests: GUESTS }, 6)
    const store = freshStore()
    const { line } = lineOf(site, { store })
    await drive(line, capture)
    const days = store.days.list(site.id, '0000', '9999')
    const changed = days.find((day) => day.date === date)
    expect(changed === undefined ? 0 : (changed.end - changed.start) / HOUR).toBe(hours)
    expect(changed?.covered).toBeGreaterThan(0.99)
    expect(changed?.covered).toBeLessThanOrEqual(1)
    days.slice(1).forEach((day, i) => {
      expect(day.start).toBe(days[i]?.end)
    })
    const fills = store.cycles.list(site.id, 0, Number.MAX_SAFE_INTEGER)
    expect(fills.length).toBeGreaterThan(2)
    expect(days.reduce((sum, day) => sum + day.fills, 0)).toBe(fills.length)
    const runS = fills.reduce((sum, fill) => sum + fill.durationS, 0)
    expect(days.reduce((sum, day) => sum + day.runS, 0)).toBeCloseTo(runS, 6)
    const pumped = fills.reduce((sum, fill) => sum + (fill.volumeL?.value ?? 0), 0)
    expect(days.reduce((sum, day) => sum + (day.pumpedL?.value ?? 0), 0)).toBeCloseTo(pumped, 6)
  })
})
