/**
 * What the broker turned away and whom two boards push out in turn, by site: in memory, bounded, since the start. The
 * outside may make up names without end, so rows past the bound are counted as one.
 */
import { LIMITS } from '../model/limits.js'
import type { DaemonFacts } from '../model/daemon-facts.js'
import { MINUTE, type Ms } from '../model/time.js'
import type { ReceiveEvent } from '../receive/receiver.js'
import type { BoardRule } from '../receive/rules.js'
import type { BrokerRefusal } from '../show/source.js'

/** Two boards with one name are still there while they have pushed each other out within this time. */
const TWO_BOARDS_FOR_MS = 15 * MINUTE

type Row = { site: string | null; reason: string; who: string; count: number; first: Ms; last: Ms; example: string }

export class BrokerBook {
  readonly #boards: readonly BoardRule[]
  readonly #sites: ReadonlySet<string>
  readonly #rows = new Map<string, Row>()
  readonly #two = new Map<string, { site: string; board: string; since: Ms; last: Ms; takeovers: number }>()

  constructor(boards: readonly BoardRule[]) {
    this.#boards = boards
    this.#sites = new Set(boards.map((rule) => rule.site))
  }

  note(event: ReceiveEvent): void {
    if (event.kind === 'refused') this.#refused(event.at, event.reason, event.who, event.what)
    else if (event.kind === 'two-boards-one-name') this.#twoBoards(event)
  }

  /** Of one site; what no site can be told of only where there is one. */
  refusals(site: string): readonly BrokerRefusal[] {
    return [...this.#rows.values()]
      .filter((row) => row.site === site || (row.site === null && this.#sites.size === 1))
      .map(({ site: _, ...row }) => row)
      .sort((a, b) => b.last - a.last)
  }

  facts(site: string, facts: DaemonFacts, now: Ms): DaemonFacts {
    if (this.#two.size === 0) return facts
    const twoBoards = []
    for (const [key, { site: of, board, since, last, takeovers }] of this.#two) {
      if (now - last > TWO_BOARDS_FOR_MS) this.#two.delete(key)
      else if (of === site) twoBoards.push({ board, since, takeovers })
    }
    return twoBoards.length === 0 ? facts : { ...facts, twoBoards }
  }

  #refused(at: Ms, reason: string, who: string, what: string): void {
    const full = this.#rows.size >= LIMITS.refusalRowsMax && !this.#rows.has(`${reason} ${who}`)
    const name = full ? '' : who
    const key = `${reason} ${name}`
    const row = this.#rows.get(key)
    if (row !== undefined) Object.assign(row, { count: row.count + 1, last: at, example: what })
    else
      this.#rows.set(key, {
        site: this.#siteOf(name, what),
        reason,
        who: name,
        count: 1,
        first: at,
        last: at,
        example: what,
      })
  }

  #siteOf(who: string, what: string): string | null {
    const [word = ''] = who.split('/')
    if (this.#sites.has(word)) return word
    const board = this.#named(who)
    if (board !== null) return board.site
    // What was asked for begins with the topic.
    const level = /^(?:a will to )?water\/([^/;,]+)\//.exec(what)?.[1]
    return level !== undefined && this.#sites.has(level) ? level : null
  }

  #twoBoards(event: Extract<ReceiveEvent, { kind: 'two-boards-one-name' }>): void {
    const rule = this.#boards.find((one) => event.topic !== undefined && one.topics.includes(event.topic))
    const known = rule ?? this.#named(event.client) ?? this.#named(event.who ?? '')
    if (known === null || known === undefined) return
    const key = `${known.site} ${known.board}`
    const before = this.#two.get(key)
    if (before !== undefined) Object.assign(before, { last: event.at, takeovers: event.takeovers })
    else
      this.#two.set(key, {
        site: known.site,
        board: known.board,
        since: event.at,
        last: event.at,
        takeovers: event.takeovers,
      })
  }

  /** A board by its id, `site-board` or `site/board`, where only one is meant. */
  #named(word: string): BoardRule | null {
    const found = this.#boards.filter(
      ({ site, board }) =>
        word === board ||
        word === `${site}-${board}` ||
        word === `${site}/${board}` ||
        word === `${site}/${site}-${board}`,
    )
    return found.length === 1 ? (found[0] ?? null) : null
  }
}
