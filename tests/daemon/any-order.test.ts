import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { Random } from '../../simulators/random.js'
import { drive } from '../../src/daemon/replay.js'
import type { Arrival } from '../../src/model/sample.js'
import { DAY, HOUR, type Ms, SECOND } from '../../src/model/time.js'
import { captureOf, type Derived, derived, freshStore, lineOf, type SiteId, siteOf, START } from './support.js'

/** Every run ends here on its own clock: long after the last sample and after the slowest way of arriving. */
const END: Ms = START + 2 * DAY + 6 * HOUR
const RUNS = Number(process.env.ANY_ORDER_RUNS ?? 6)
const PATCHY = { outagesPerDay: 6, outageLongestMin: 180 }
const GUESTS = [{ fromDay: 0, toDay: 2, people: 4 }]

/** Runs a capture to `END` and returns what was derived; sealing goes on beside it, as housekeeping does. */
async function run(
  site: SiteId,
  arrivals: readonly Arrival[],
  sealEveryMs: Ms | null,
): Promise<Derived & { late: number }> {
  const settings = siteOf(site)
  const { line, store } = lineOf(settings, { store: freshStore() })
  await drive(line, arrivals, {
    onStep: (now) => {
      if (sealEveryMs === null || now % sealEveryMs !== 0) return
      line.commitKept()
      while (store.sealDue(now + 2 * DAY)) store.seal(now + 2 * DAY, 2_000)
    },
  })
  line.finish(END)
  const found = derived(store, settings)
  store.close()
  return { ...found, late: line.counts.late }
}

/** How a capture is thrown about. */
type Throw = {
  readonly blockSize: number
  /** Seed of the order in which the blocks come. */
  readonly seed: number
  /** Every n-th message comes once more, `later` places further on. */
  readonly repeatEvery: number
  readonly later: number
  /** Time between receipts: of most, and now and then a pause in which the line steps and goes back. */
  readonly gapMs: number
  readonly pauseEvery: number
  readonly pauseMs: number
}

const throws: fc.Arbitrary<Throw> = fc.record({
  blockSize: fc.oneof(fc.constant(1), fc.integer({ min: 2, max: 40 }), fc.integer({ min: 41, max: 3_000 })),
  seed: fc.nat(),
  repeatEvery: fc.integer({ min: 2, max: 50 }),
  later: fc.integer({ min: 0, max: 4_000 }),
  gapMs: fc.integer({ min: 0, max: 12 }),
  pauseEvery: fc.integer({ min: 1_500, max: 6_000 }),
  pauseMs: fc.integer({ min: 0, max: 90_000 }),
})

/** The capture in another order, with repeats, received after its own end in one ascending stretch of time. */
function thrown(capture: readonly Arrival[], how: Throw): Arrival[] {
  const blocks: Arrival[][] = []
  for (let i = 0; i < capture.length; i += how.blockSize) blocks.push(capture.slice(i, i + how.blockSize))
  const random = new Random(how.seed, 'order')
  const keyed = blocks.map((block) => ({ block, key: random.next() }))
  const order = keyed.sort((a, b) => a.key - b.key).flatMap(({ block }) => block)
  const places = order.map((arrival, i) => ({ arrival, place: i }))
  for (let i = 0; i < order.length; i += how.repeatEvery) {
    const arrival = order[i]
    if (arrival !== undefined) places.push({ arrival, place: i + how.later + 0.5 })
  }
  places.sort((a, b) => a.place - b.place)
  let at = (capture.at(-1)?.at ?? 0) + SECOND
  return places.map(({ arrival }, i) => {
    at += how.gapMs + (i % how.pauseEvery === how.pauseEvery - 1 ? how.pauseMs : 0)
    return { ...arrival, at }
  })
}

describe.each(['juniper', 'fern'] as const)('at %s', (site) => {
  it('any order of arrival, and any repeats, end in the same fills and days', async () => {
    const capture = captureOf({ site, days: 2, guests: GUESTS }, 6)
    const { late, ...inOrder } = await run(site, capture, null)
    expect(late).toBe(0)
    expect(inOrder.fills).toBeGreaterThanOrEqual(3)
    let lateInAll = 0
    await fc.assert(
      fc.asyncProperty(throws, fc.boolean(), async (how, sealing) => {
        const found = await run(site, thrown(capture, how), sealing ? 15 * SECOND : null)
        lateInAll += found.late
        expect(found).toEqual({ ...inOrder, late: found.late })
      }),
      { numRuns: RUNS },
    )
    expect(lateInAll).toBeGreaterThan(capture.length)
  })

  it('a link that fails for hours, and boards that send what they kept, end in the same fills and days', async () => {
    const options = { site, days: 2, guests: GUESTS }
    const steady = await run(site, captureOf(options, 1), null)
    const found = await run(site, captureOf({ ...options, link: PATCHY }, 1), HOUR)
    expect(found.late).toBeGreaterThan(1_000)
    expect(found).toEqual({ ...steady, late: found.late })
  })
})
