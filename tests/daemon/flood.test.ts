/** Boards that empty their memories: when the days are derived again, how often, and that nobody is kept from anything. */
import { describe, expect, it } from 'vitest'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import { LIMITS } from '../../src/model/limits.js'
import type { Arrival } from '../../src/model/sample.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import { StoreError } from '../../src/record/store-error.js'
import { captureOf, derived, freshStore, lineOf, LOG, siteOf, START } from './support.js'

const site = siteOf('juniper')
const GUESTS = [{ fromDay: 0, toDay: 4, people: 4 }]
const capture = captureOf({ site: 'juniper', days: 1, guests: GUESTS }, 6)
/** A day after the capture began: all of it is late. */
const NOW: Ms = START + DAY + HOUR
const steps = (line: Line, now: Ms, samplesMax?: number): boolean => line.step(now, () => DAEMON_WELL, samplesMax)
const arriving = (at: Ms, from: number, count: number): Arrival[] =>
  capture.slice(from, from + count).map((arrival) => ({ ...arrival, at }))

/** A line whose site has lived up to now with nothing heard but the last message. */
function lateLine() {
  const made = lineOf(site)
  made.line.receive(capture.slice(-1))
  steps(made.line, NOW)
  return made
}

async function inOrder() {
  const { line, store } = lineOf(site)
  await drive(line, capture)
  line.finish(NOW + 10 * MINUTE)
  return derived(store, site)
}

describe('a flood of late samples', () => {
  it('is waited for while it goes on, and derived from when it has paused', async () => {
    const { line, store } = lateLine()
    const half = Math.floor(capture.length / 2)
    line.receive(arriving(NOW, 0, half))
    expect(line.counts.late).toBeGreaterThan(LIMITS.floodSamples)
    const later = NOW + LIMITS.rederiveAfterMs + SECOND
    line.receive(arriving(later, half, capture.length - half))
    steps(line, later + LIMITS.floodPauseMs - 1)
    expect(line.site(site.id)?.goingBack).toBe(true)
    expect(store.cycles.list(site.id, 0, NOW).length).toBe(0)
    steps(line, later + LIMITS.floodPauseMs)
    expect(line.site(site.id)?.goingBack).toBe(false)
    line.finish(NOW + 10 * MINUTE)
    expect(derived(store, site)).toEqual(await inOrder())
  })

  it('is not waited for beyond the longest, though it goes on', () => {
    const { line } = lateLine()
    const first = 1_000
    const piece = Math.floor((capture.length - first) / (LIMITS.floodWaitMaxMs / SECOND))
    expect(piece).toBeGreaterThan(0)
    let waited = 0
    for (let at = NOW; line.site(site.id)?.goingBack !== false || at === NOW; at += SECOND) {
      line.receive(arriving(at, waited * piece, piece))
      if (waited === 0) line.receive(arriving(at, capture.length - first, first))
      waited += 1
      steps(line, at)
      if (waited > 400) break
    }
    expect(waited).toBe(LIMITS.floodWaitMaxMs / SECOND + 1)
  })

  it('is no reason to wait where only a few come late, again and again', () => {
    const { line } = lateLine()
    let at = NOW
    for (let i = 0; i < LIMITS.rederiveAfterMs / SECOND; i++, at += SECOND) {
      line.receive(arriving(at, i, 1))
      steps(line, at)
      expect(line.site(site.id)?.goingBack).toBe(true)
    }
    steps(line, at)
    expect(line.site(site.id)?.goingBack).toBe(false)
  })

  it('that goes on while the site is on its way back is read on that way where it can be', async () => {
    const { line, store } = lateLine()
    const half = Math.floor(capture.length / 2)
    line.receive(arriving(NOW, 0, half))
    const due = NOW + LIMITS.rederiveAfterMs + LIMITS.floodPauseMs
    expect(steps(line, due, 100)).toBe(true)
    const late = line.counts.late
    // Later in time than what has been read again: no further way back for these.
    line.receive(arriving(due, half, capture.length - half))
    expect(line.counts.late).toBe(late)
    for (let i = 0; i < 100 && steps(line, due + i, 100); i++) expect(i).toBeLessThan(99)
    expect(line.site(site.id)?.goingBack).toBe(false)
    line.finish(NOW + 10 * MINUTE)
    expect(derived(store, site)).toEqual(await inOrder())
  })
})

describe('several sites that go back at once', () => {
  const sites = ['a', 'b', 'c'].map((id) => ({
    ...site,
    id,
    boards: site.boards.map((board) => ({ ...board, topic: board.topic.replace(site.id, id) })),
  }))
  const to = (id: string, arrivals: readonly Arrival[]): Arrival[] =>
    arrivals.map((arrival) => ({ ...arrival, topic: arrival.topic.replace(site.id, id) }))

  function lines(store = freshStore(), unwritten: () => void = () => {}) {
    const events = { onUnwritten: unwritten }
    const line = new Line({ sites, store, log: LOG, judging: false, link: () => null, events })
    for (const { id } of sites) line.receive(to(id, capture.slice(-1)))
    steps(line, NOW)
    return { line, store }
  }

  it('take turns, a piece in each step, and end as if each were alone', async () => {
    const { line, store } = lines()
    for (const { id } of sites) line.receive(to(id, arriving(NOW, 0, capture.length)))
    const due = NOW + LIMITS.rederiveAfterMs + LIMITS.floodPauseMs
    const reached: string[] = []
    let count = 0
    while (steps(line, due + count, 1)) {
      count += 1
      for (const one of line.sites) if (!one.goingBack && !reached.includes(one.site.id)) reached.push(one.site.id)
      if (count > 100) throw new Error('no end of going back')
    }
    // A day of 6 h pieces for each of three sites.
    expect(count).toBeGreaterThanOrEqual(3 * 4 - 1)
    line.finish(NOW + 10 * MINUTE)
    const alone = await inOrder()
    for (const one of sites) expect(derived(store, one)).toEqual(alone)
  })

  it('are written together, and one that cannot be written keeps the others from nothing', async () => {
    const store = freshStore()
    const put = store.days.put
    let broken = true
    const damaged = {
      ...store,
      days: {
        ...store.days,
        put: (id: string, day: Parameters<typeof put>[1]) => {
          if (broken && id === 'b') throw new StoreError('failed', 'not this one')
          put(id, day)
        },
      },
    }
    const said: string[] = []
    const log = { ...LOG, error: (fields: object) => said.push(JSON.stringify(fields)) }
    const line = new Line({ sites, store: damaged, log, judging: false, link: () => null })
    for (const { id } of sites) line.receive(to(id, capture.slice(0, 500)))
    steps(line, capture[500]?.at ?? NOW)
    expect(store.days.list('a', '0000', '9999').length).toBeGreaterThan(0)
    expect(store.days.list('b', '0000', '9999').length).toBe(0)
    expect(store.days.list('c', '0000', '9999').length).toBeGreaterThan(0)
    expect(said).toHaveLength(1)
    expect(said[0]).toContain('"site":"b"')
    expect(line.holding).toBe(true)
    broken = false
    steps(line, (capture[500]?.at ?? NOW) + MINUTE)
    expect(store.days.list('b', '0000', '9999')).toEqual(store.days.list('a', '0000', '9999'))
    expect(line.holding).toBe(false)
  })
})
