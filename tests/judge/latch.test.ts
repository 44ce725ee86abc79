import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { aLine, bench, START } from './facts.js'

const MIN = 60_000
const KEY = 'freezing:tank outlet'
const frozen = (facts: Facts) => {
  facts.lines = [{ ...aLine('tank outlet', -2), frozenSince: START }]
}
const state = (it_: ReturnType<typeof bench>) => it_.judge.active(it_.state).find(({ key }) => key === KEY)?.state

describe('an alarm that stays until somebody has seen it', () => {
  it('is latched still when its shelf time is over, having cleared before it was put aside', () => {
    const it_ = bench().run(600, frozen).run(1_800)
    expect(state(it_)).toBe('latched')
    it_.judge.shelve(it_.state, KEY, START + 100 * MIN, 'later', 'ops', START + 40 * MIN)
    expect(state(it_)).toBe('shelved')
    it_.run(70 * 60)
    expect(state(it_)).toBe('latched')
    it_.judge.acknowledge(it_.state, KEY, 'ops', START + 120 * MIN)
    expect(state(it_)).toBeUndefined()
  })

  it('is latched when it cleared on the shelf, by time or by hand', () => {
    const it_ = bench().run(600, frozen)
    it_.judge.shelve(it_.state, KEY, START + 60 * MIN, 'later', 'ops', START + 10 * MIN)
    it_.run(1_800)
    expect(state(it_)).toBe('shelved')
    it_.judge.unshelve(it_.state, KEY)
    expect(state(it_)).toBe('latched')
  })

  it('is not latched anew once it was acknowledged, nor after a restart from an older state', () => {
    const it_ = bench().run(600, frozen)
    it_.judge.acknowledge(it_.state, KEY, 'ops', START + 10 * MIN)
    it_.judge.shelve(it_.state, KEY, START + 60 * MIN, 'later', 'ops', START + 11 * MIN)
    it_.run(1_800)
    it_.judge.unshelve(it_.state, KEY)
    expect(state(it_)).toBeUndefined()
    const old = JSON.parse(JSON.stringify(it_.state)) as { entries: Record<string, unknown>[] }
    for (const entry of old.entries) Reflect.deleteProperty(entry, 'latch')
    expect(it_.judge.restore(JSON.stringify(old)).entries.every(({ latch }) => latch === false)).toBe(true)
  })
})
