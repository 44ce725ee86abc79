/** Sizes are worked out in pieces, once a day, and never by too many at a time. */
import { describe, expect, it } from 'vitest'
import { createSizingDesk, SizingBusy } from '../../src/daemon/sizing-desk.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { sizingSite } from '../scenario/sizing/try-seed.js'
import { storedHours, trueCourse } from '../scenario/sizing/truth.js'

const site = sizingSite()

function desk(days: number) {
  const store = openStore({ file: ':memory:', now: 0 })
  for (const hour of storedHours(trueCourse({ seed: 4, years: 1 }), 10, days)) store.energyHours.put(site.id, hour)
  const due: { at: number; run: () => void }[] = []
  const world = { now: 400 * DAY, pieces: 0, longestMs: 0 }
  const clock = {
    now: () => world.now,
    monotonic: () => performance.now(),
    chance: () => 0.5,
    after: (_ms: number, run: () => void) => {
      const entry = { at: 0, run }
      due.push(entry)
      return () => void due.splice(due.indexOf(entry), 1)
    },
  }
  /** Runs what is due until nothing is. */
  const drain = (): void => {
    for (let next = due.shift(); next !== undefined; next = due.shift()) {
      const began = performance.now()
      next.run()
      world.pieces += 1
      world.longestMs = Math.max(world.longestMs, performance.now() - began)
    }
  }
  return { desk: createSizingDesk({ store, clock, stateOf: () => null }), drain, world, store }
}

const ASK = { needL: null, shortDaysAllowed: 1 }

describe('the sizing desk', () => {
  it('works in a hundred pieces and answers once a day', async () => {
    const one = desk(40)
    const first = one.desk.ask(site, ASK)
    expect(one.desk.ask(site, ASK)).toBe(first)
    one.drain()
    expect((await first).verdict).toBe('answered')
    expect(one.world.pieces).toBeGreaterThan(100)
    expect(one.desk.ask(site, ASK)).toBe(first)
    one.world.now += DAY
    expect(one.desk.ask(site, ASK)).not.toBe(first)
    one.drain()
    one.store.close()
  })

  it('has pieces that are a small part of the whole', () => {
    const one = desk(90)
    void one.desk.ask(site, ASK)
    const began = performance.now()
    one.drain()
    // The machine that runs this may be busy: what counts is that no piece is much of the whole.
    expect(one.world.longestMs).toBeLessThan(0.25 * (performance.now() - began))
    one.store.close()
  })

  it('refuses what is too much at once, and takes it again later', async () => {
    const one = desk(3)
    const asks = Array.from({ length: LIMITS.sizingWaitingMax + 1 }, (_, i) =>
      one.desk.ask(site, { ...ASK, needL: 100 + i }),
    )
    await expect(one.desk.ask(site, { ...ASK, needL: 999 })).rejects.toThrow(SizingBusy)
    one.drain()
    expect((await Promise.all(asks)).every((result) => result.verdict === 'declined')).toBe(true)
    const again = one.desk.ask(site, { ...ASK, needL: 999 })
    one.drain()
    expect((await again).verdict).toBe('declined')
    one.store.close()
  })

  it('tells of a store that fails, and asks it again the next time', async () => {
    const one = desk(3)
    one.store.close()
    const failing = one.desk.ask(site, ASK)
    one.drain()
    await expect(failing).rejects.toThrow()
    expect(one.desk.ask(site, ASK)).not.toBe(failing)
  })
})
