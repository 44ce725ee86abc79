/** What is told of a board by its messages and connections alone. */
import { describe, expect, it } from 'vitest'
import { BoardWatch } from '../../src/daemon/board-watch.js'
import { BrokerBook } from '../../src/daemon/broker-book.js'
import { DAEMON_WELL, type DaemonFacts } from '../../src/model/daemon-facts.js'
import { LIMITS } from '../../src/model/limits.js'
import type { Decoded, RefusalReason } from '../../src/model/sample.js'
import { MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import type { BoardRule } from '../../src/receive/rules.js'

const AT: Ms = Date.UTC(2026, 1, 3, 12)

type Words = 'good' | 'lost' | RefusalReason

function decoded(words: Words, at: Ms): Decoded {
  const sound = words === 'good' || words === 'lost'
  return {
    site: 'juniper',
    board: 'tank-board',
    samples: sound ? [{ key: 'tank-level', role: 'tank-level', t: at, value: 1 }] : [],
    refusals: sound ? [] : [{ reason: words, board: 'tank-board', at, example: 'x' }],
    clockSuspect: words === 'lost',
  }
}

/** One message each 10 s from AT on; the facts after the last. */
function saidOf(said: readonly Words[]): DaemonFacts {
  const watch = new BoardWatch()
  let at = AT
  for (const words of said) {
    watch.note(decoded(words, at), at)
    at += 10 * SECOND
  }
  return watch.facts('juniper', DAEMON_WELL, at)
}

const many = (words: Words, count: number): Words[] => Array.from({ length: count }, () => words)

describe('a clock', () => {
  it('that lies ahead is told at the third message, never for one', () => {
    expect(saidOf(['good', 'future', 'good']).suspectClocks).toEqual([])
    expect(saidOf(['good', 'future', 'future']).suspectClocks).toEqual([])
    expect(saidOf(['good', ...many('future', 3)]).suspectClocks).toMatchObject([{ board: 'tank-board', lost: false }])
  })

  it('is right again after five good messages', () => {
    expect(saidOf([...many('future', 9), ...many('good', 4)]).suspectClocks).toHaveLength(1)
    expect(saidOf([...many('future', 9), ...many('good', 5)]).suspectClocks).toEqual([])
  })

  it('that was lost is told after 10 min, and of a board that never had the time nothing is', () => {
    expect(saidOf([...many('good', 5), ...many('lost', 50)]).suspectClocks).toEqual([])
    expect(saidOf([...many('good', 5), ...many('lost', 62)]).suspectClocks).toMatchObject([{ lost: true }])
    expect(saidOf(many('lost', 500)).suspectClocks).toEqual([])
  })
})

describe('a board that talks but cannot be read', () => {
  it('is known as such at its third message, and no more at the first that can be read', () => {
    expect(saidOf(['good', ...many('not-senml', 2)]).unreadable).toEqual([])
    expect(saidOf(['good', ...many('not-senml', 3)]).unreadable).toMatchObject([{ count: 3, reason: 'not-senml' }])
    expect(saidOf([...many('unknown-name', 30), 'good']).unreadable).toEqual([])
  })

  it('is silent, not unreadable, once it says nothing at all', () => {
    const watch = new BoardWatch()
    for (let i = 0; i < 5; i++) watch.note(decoded('not-senml', AT), AT)
    expect(watch.facts('juniper', DAEMON_WELL, AT + MINUTE).unreadable).toHaveLength(1)
    expect(watch.facts('juniper', DAEMON_WELL, AT + 6 * MINUTE).unreadable).toEqual([])
    expect(watch.facts('fern', DAEMON_WELL, AT + MINUTE)).toBe(DAEMON_WELL)
  })
})

const RULES: readonly BoardRule[] = [
  { site: 'juniper', board: 'tank-board', topics: ['water/juniper/tank-board'] },
  { site: 'fern', board: 'tank-board', topics: ['water/fern/tank-board'] },
  { site: 'fern', board: 'pump-board', topics: ['water/fern/pump-board'] },
]

describe('what the broker turned away', () => {
  const refused = (who: string, what: string, at = AT) =>
    ({ kind: 'refused', at, reason: 'account', who, what }) as const

  it('is counted by reason and name, under the site that it can be told of', () => {
    const book = new BrokerBook(RULES)
    book.note(refused('pump-board', 'a wrong password'))
    book.note(refused('pump-board', 'a wrong password', AT + SECOND))
    book.note({ kind: 'refused', at: AT, reason: 'topic', who: 'anonymous', what: 'water/juniper/tnak; expected …' })
    book.note(refused('stranger', 'no such account'))
    expect(book.refusals('fern')).toEqual([
      { reason: 'account', who: 'pump-board', count: 2, first: AT, last: AT + SECOND, example: 'a wrong password' },
    ])
    expect(book.refusals('juniper').map(({ who }) => who)).toEqual(['anonymous'])
    const alone = new BrokerBook(RULES.slice(0, 1))
    alone.note(refused('stranger', 'no such account'))
    expect(alone.refusals('juniper')).toHaveLength(1)
  })

  it('is bounded, whatever names are made up', () => {
    const book = new BrokerBook(RULES.slice(0, 1))
    for (let i = 0; i < LIMITS.refusalRowsMax + 50; i++) book.note(refused(`x${i}`, ''))
    const rows = book.refusals('juniper')
    expect(rows).toHaveLength(LIMITS.refusalRowsMax + 1)
    expect(rows.find(({ who }) => who === '')?.count).toBe(50)
  })
})

describe('two boards with one name', () => {
  const event = (more: object) => ({ kind: 'two-boards-one-name', at: AT, client: 'x', takeovers: 6, ...more }) as const

  it('are told of the board whose topic they use, else whose name they bear', () => {
    const book = new BrokerBook(RULES)
    book.note(event({ topic: 'water/fern/tank-board' }))
    book.note(event({ who: 'juniper/tank-board' }))
    book.note(event({ client: 'tank-board' }))
    expect(book.facts('fern', DAEMON_WELL, AT).twoBoards).toEqual([{ board: 'tank-board', since: AT, takeovers: 6 }])
    expect(book.facts('juniper', DAEMON_WELL, AT).twoBoards).toHaveLength(1)
  })

  it('stand for 15 min after the last push, so that a pause makes no all-clear', () => {
    const book = new BrokerBook(RULES)
    book.note(event({ topic: 'water/fern/pump-board' }))
    book.note(event({ topic: 'water/fern/pump-board', at: AT + 10 * MINUTE }))
    expect(book.facts('fern', DAEMON_WELL, AT + 24 * MINUTE).twoBoards).toMatchObject([{ since: AT }])
    expect(book.facts('fern', DAEMON_WELL, AT + 26 * MINUTE).twoBoards).toEqual([])
  })
})
