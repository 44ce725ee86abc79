import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { LIMITS } from '../../src/model/limits.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { bench, type Bench, LOOK_MS, START } from './facts.js'

/** Nothing is heard for so long; afterwards the data have no gap, since the boards flush what they kept. */
function outage(it_: Bench, ms: number): Bench {
  const from = it_.state.at ?? START
  return it_
    .run(ms / 1_000, (facts: Facts) => {
      facts.boards = facts.boards.map((board) => ({ ...board, lastHeard: from }))
      facts.lastHeard = from
    })
    .run(600)
}

describe('the site’s own usual silence', () => {
  it('is learned as it is lived, so that a link which fails each day is told once', () => {
    const it_ = bench()
    outage(it_, 3 * HOUR).run(DAY / 1_000)
    const first = it_.told.length
    for (let day = 0; day < 4; day += 1) outage(it_, 5 * HOUR).run(6 * 3_600)
    expect(first).toBe(2)
    expect(it_.told).toHaveLength(2)
    outage(it_, 10 * HOUR + 20 * MINUTE)
    expect(it_.keys()).toHaveLength(2)
  })

  it('is forgotten after 30 days', () => {
    const it_ = outage(bench(), 3 * HOUR)
    it_.skip(31 * DAY).run(60)
    outage(it_, 20 * MINUTE)
    expect(it_.keys()).toEqual(['site-silent:site', 'site-silent:site'])
  })

  it('asks for the state to be stored when something was learned', () => {
    const it_ = outage(bench(), 10 * MINUTE)
    expect(it_.told).toEqual([])
    expect(it_.outcomes.filter(({ keep }) => keep)).toHaveLength(1)
    expect(it_.state.silence.outages[0]?.lastedMs).toBe(10 * MINUTE)
  })

  it('counts no time in which nobody listened', () => {
    const it_ = bench()
    it_.daemon = { ...it_.daemon, listeningSince: START + HOUR }
    it_.run(60, (facts) => Object.assign(facts, { lastHeard: START - DAY })).run(600)
    expect(it_.state.silence.outages).toEqual([])
  })

  it('keeps a bounded memory: a longer outage forgets the shorter ones before it', () => {
    const it_ = bench()
    for (let i = 0; i < 30; i += 1) outage(it_, 3 * MINUTE + (i % 3) * MINUTE)
    expect(it_.state.silence.outages.length).toBeLessThanOrEqual(3)
    expect(it_.state.silence.outages.length).toBeLessThan(LIMITS.outagesKeptMax)
    expect(it_.state.silence.silentMs).toBeLessThan(LOOK_MS)
  })
})
