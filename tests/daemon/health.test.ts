import { describe, expect, it } from 'vitest'
import { BrokerBook } from '../../src/daemon/broker-book.js'
import { createHealth } from '../../src/daemon/health.js'
import { Ingest } from '../../src/daemon/ingest.js'
import { Line } from '../../src/daemon/line.js'
import { LIMITS } from '../../src/model/limits.js'
import { MINUTE } from '../../src/model/time.js'
import type { ReceiverStats } from '../../src/receive/receiver.js'
import { openStore } from '../../src/record/store.js'
import { createTeller } from '../../src/tell/teller.js'
import { AFTERNOON, SILENT_LOG, siteSettings } from '../tell/support.js'

const STATS: Omit<ReceiverStats, 'connected' | 'misses'> = {
  received: 0,
  settled: 0,
  failed: 0,
  held: 0,
  takeovers: 0,
  restarts: 0,
  provedAt: null,
  refused: {
    account: 0,
    'too-many-tries': 0,
    'client-id': 0,
    topic: 0,
    subscription: 0,
    'frame-too-large': 0,
    'too-many-connections': 0,
    'queue-full': 0,
    protocol: 0,
  },
}

/** The daemon's look at itself over a receiver and a clock that the test moves. */
function scene(external: boolean) {
  const sites = [siteSettings()]
  const log = { ...SILENT_LOG, debug() {} }
  const store = openStore({ file: ':memory:', now: AFTERNOON })
  const state = {
    now: AFTERNOON,
    steppedAt: AFTERNOON,
    connected: 1,
    misses: 0,
    holding: false,
    broken: [] as string[],
  }
  const clock = { now: () => state.now, monotonic: () => 0, chance: () => 0, after: () => () => {} }
  const line = new Line({ sites, store, log, judging: true, link: () => null })
  Object.defineProperty(line, 'holding', { get: () => state.holding })
  Object.defineProperty(line, 'broken', { get: () => state.broken })
  const health = createHealth({
    line,
    store,
    ingest: new Ingest({ line, clock, log }),
    teller: createTeller({ store, sites, ways: new Map(), clock, log }),
    book: new BrokerBook([]),
    receiver: () => ({
      address: () => '127.0.0.1:1883',
      stats: () => ({ ...STATS, connected: state.connected, misses: state.misses }),
      publish: async () => {},
      close: async () => {},
    }),
    external,
    clock,
    startedAt: AFTERNOON,
    steppedAt: () => state.steppedAt,
  })
  const wrong = () => health.checks().flatMap(({ name, ok }) => (ok ? [] : [name]))
  return { state, health, wrong, store, line }
}

describe('health', () => {
  it('turns when the broker of our own no longer hears itself, and back when it does', () => {
    const { state, wrong } = scene(false)
    expect(wrong()).toEqual([])
    state.misses = LIMITS.selfProbeMissesMax - 1
    expect(wrong()).toEqual([])
    state.misses = LIMITS.selfProbeMissesMax
    expect(wrong()).toEqual(['receive'])
    state.misses = 0
    expect(wrong()).toEqual([])
  })

  it('does not mind that no board is connected to the broker of our own, but minds being cut off from another', () => {
    const own = scene(false)
    own.state.connected = 0
    expect(own.wrong()).toEqual([])
    const other = scene(true)
    other.state.connected = 0
    expect(other.wrong()).toEqual(['receive'])
  })

  it('turns when nobody has looked at the readings for two minutes', () => {
    const { state, wrong } = scene(false)
    state.now += 2 * MINUTE
    expect(wrong()).toEqual(['line'])
    state.steppedAt = state.now
    expect(wrong()).toEqual([])
  })

  it('tells the judge since when what was found could not be written, also where no message comes in', () => {
    const { state, health, wrong } = scene(false)
    expect(health.facts('juniper').storeFailingSince).toBeNull()
    state.holding = true
    expect(health.facts('juniper').storeFailingSince).toBe(AFTERNOON)
    expect(wrong()).toEqual(['store'])
    state.now += MINUTE
    expect(health.facts('juniper').storeFailingSince).toBe(AFTERNOON)
    state.holding = false
    expect(health.facts('juniper').storeFailingSince).toBeNull()
  })

  it('proves by doing: a look, the broker and a commit, each of which alone holds back the beat', () => {
    const { state, health, store, line } = scene(false)
    expect(health.prove()).toEqual([])
    state.misses = 1
    expect(health.prove()).toEqual(['the broker did not hear itself'])
    state.misses = 0
    state.now += MINUTE
    expect(health.prove()).toEqual(['readings are not looked at'])
    state.steppedAt = state.now
    state.holding = true
    expect(health.prove()).toEqual(['the store does not take what is found'])
    state.holding = false
    state.broken.push('juniper')
    expect(health.prove()).toEqual(['the readings of juniper cannot be looked at'])
    state.broken.length = 0
    expect(health.prove()).toEqual([])
    store.close()
    expect(health.prove().join()).toMatch(/^the store takes nothing: /)
    expect(line.holding).toBe(false)
  })
})
