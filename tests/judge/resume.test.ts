import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Facts } from '../../src/model/facts.js'
import { createJudge } from '../../src/judge/judge.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import { aLine, aSite, HOME, LAG_MS, LOOK_MS, quietFacts, running, START } from './facts.js'

/** Faults that a spell may bring, alone or together. */
const BENDS: readonly ((facts: Facts, at: number) => void)[] = [
  () => undefined,
  (facts) => void Object.assign(facts.water, { volumeL: 300 }),
  (facts) => void Object.assign(facts.battery, { lowSince: facts.at - 120_000, recentV: 24.8 }),
  (facts) => void Object.assign(facts.pump, { lastEnd: 'dry', lastEndAt: facts.at - 90_000 }),
  (facts) => {
    facts.lines = [{ ...aLine('tank outlet', -1), frozenSince: facts.at - 90_000 }]
  },
  (facts) => {
    running(facts, facts.at - 5_000_000)
    facts.water.atHighSince = facts.at - 120_000
  },
  (facts) => {
    facts.pump.known = false
    Object.assign(facts.water, { volumeL: null, levelM: null })
    facts.battery.recentV = null
  },
  (facts) => {
    facts.suspects = [{ key: 'tank-level', kind: 'missing', since: facts.at - 700_000, figure: 700 }]
  },
]

const spell = fc.record({
  looks: fc.integer({ min: 1, max: 60 }),
  bends: fc.array(fc.nat(BENDS.length - 1), { minLength: 1, maxLength: 2 }),
  winterized: fc.boolean(),
  act: fc.constantFrom('none', 'acknowledge', 'shelve'),
})
type Spell = typeof spell extends fc.Arbitrary<infer T> ? T : never

/** Everything the judge said, as one text; the state goes through JSON before the looks that `cuts` names. */
function said(spells: readonly Spell[], cuts: (look: number) => boolean): string {
  const site = aSite({ 'tank-low': { onDelayS: 0, offDelayS: 0 } })
  let judge = createJudge(site)
  let state = judge.initial()
  let at = START
  let look = 0
  const lines: string[] = []
  for (const { looks, bends, winterized, act } of spells) {
    for (let i = 0; i < looks; i += 1) {
      if (cuts(look)) {
        judge = createJudge(site)
        state = judge.restore(JSON.stringify(state))
      }
      at += LOOK_MS
      look += 1
      const facts = quietFacts(at)
      for (const bend of bends) BENDS[bend]?.(facts, at)
      const outcome = judge.step(state, {
        facts,
        modes: { ...HOME, winterized },
        daemon: DAEMON_WELL,
        now: at + LAG_MS,
      })
      if (outcome.notices.length > 0 || outcome.changes.length > 0) lines.push(JSON.stringify(outcome))
    }
    const key = judge.active(state)[0]?.key ?? ''
    if (act === 'acknowledge') lines.push(JSON.stringify(judge.acknowledge(state, key, 'ops', at)))
    if (act === 'shelve') lines.push(JSON.stringify(judge.shelve(state, key, at + 600_000, 'x', 'ops', at)))
  }
  return lines.join('\n')
}

describe('a judge that is stopped and begun again', () => {
  it('says the same, wherever it is cut', () => {
    fc.assert(
      fc.property(
        fc.array(spell, { minLength: 1, maxLength: 12 }),
        fc.integer({ min: 1, max: 40 }),
        (spells, every) => {
          const whole = said(spells, () => false)
          expect(said(spells, (look) => look % every === 0)).toBe(whole)
        },
      ),
      { numRuns: 60 },
    )
  })

  it('has something to say in such a history', () => {
    const spells = BENDS.map((_, i) => ({ looks: 60, bends: [i], winterized: false, act: 'none' as const }))
    expect(said(spells, () => false).split('\n').length).toBeGreaterThan(8)
  })

  it('begins anew with what it cannot read', () => {
    const judge = createJudge(aSite())
    for (const text of [
      null,
      '',
      '{',
      '[]',
      '{"version":99,"at":1,"entries":[]}',
      '{"version":2,"at":"x","entries":[],"silence":{}}',
      '{"version":2,"at":1}',
    ]) {
      expect(judge.restore(text)).toEqual(judge.initial())
    }
  })
})

describe('the cost of a quiet look', () => {
  it('leaves nothing behind and says the shared nothing', () => {
    const judge = createJudge(aSite())
    const state = judge.initial()
    const facts = quietFacts(START)
    const input = { facts, modes: HOME, daemon: DAEMON_WELL, now: START }
    const first = judge.step(state, input)
    for (let i = 1; i <= 1_000; i += 1) {
      facts.at = START + i
      expect(judge.step(state, input)).toBe(first)
    }
    expect(state).toMatchObject({ at: START + 1_000, entries: [], silence: { outages: [] } })
  })
})
