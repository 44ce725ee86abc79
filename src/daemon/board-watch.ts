/**
 * What can be told of a board by its messages alone, before any reading is looked at: a clock that has gone wrong, and
 * words that nobody can read. Nothing rests on one message; what is over is forgotten after a few good ones.
 */
import type { DaemonFacts } from '../model/daemon-facts.js'
import type { Decoded } from '../model/sample.js'
import { MINUTE, type Ms } from '../model/time.js'

/** So many messages one way before it is taken as so, and so many the other way before it is over. */
const BAD_LEAST = 3
const GOOD_LEAST = 5
/** A board that has restarted is given this long to get the time. */
const UNSET_FOR_MS = 10 * MINUTE
/** Without a further word for this long a board is silent, not unreadable. */
const TALKS_WITHIN_MS = 5 * MINUTE

type Trouble = 'ahead' | 'lost'
type Board = {
  /** Messages with a time of its own that could be used: only who had a clock can lose it. */
  synced: number
  clock: { trouble: Trouble; since: Ms; bad: number; good: number } | null
  unread: { since: Ms; last: Ms; count: number; reason: string } | null
}

export class BoardWatch {
  readonly #sites = new Map<string, Map<string, Board>>()

  /** Takes what one message was decoded to. Boards are those of the configuration, so their number is bounded. */
  note(decoded: Decoded, at: Ms): void {
    if (decoded.board === '') return
    const board = this.#board(decoded.site, decoded.board)
    const ahead = decoded.refusals.length > 0 && decoded.refusals.some((refusal) => refusal.reason === 'future')
    if (decoded.samples.length > 0 || ahead) board.unread = null
    else if (decoded.refusals.length > 0) noteUnread(board, decoded, at)
    noteClock(board, decoded, ahead, at)
  }

  facts(site: string, facts: DaemonFacts, now: Ms): DaemonFacts {
    const boards = this.#sites.get(site)
    if (boards === undefined) return facts
    let found: { clocks: DaemonFacts['suspectClocks'][number][]; unread: DaemonFacts['unreadable'][number][] } | null =
      null
    for (const [board, { clock, unread }] of boards) {
      if (clock === null && unread === null) continue
      found ??= { clocks: [], unread: [] }
      if (clock !== null && clock.bad >= BAD_LEAST && (clock.trouble === 'ahead' || now - clock.since >= UNSET_FOR_MS))
        found.clocks.push({ board, since: clock.since, aheadS: null, lost: clock.trouble === 'lost' })
      if (unread !== null && unread.count >= BAD_LEAST && now - unread.last <= TALKS_WITHIN_MS)
        found.unread.push({ board, since: unread.since, count: unread.count, reason: unread.reason })
    }
    return found === null ? facts : { ...facts, suspectClocks: found.clocks, unreadable: found.unread }
  }

  #board(site: string, id: string): Board {
    let boards = this.#sites.get(site)
    if (boards === undefined) {
      boards = new Map()
      this.#sites.set(site, boards)
    }
    let board = boards.get(id)
    if (board === undefined) {
      board = { synced: 0, clock: null, unread: null }
      boards.set(id, board)
    }
    return board
  }
}

function noteUnread(board: Board, decoded: Decoded, at: Ms): void {
  const reason = decoded.refusals[0]?.reason ?? ''
  if (board.unread === null) board.unread = { since: at, last: at, count: 1, reason }
  else Object.assign(board.unread, { last: at, count: board.unread.count + 1, reason })
}

function noteClock(board: Board, decoded: Decoded, ahead: boolean, at: Ms): void {
  const trouble: Trouble | null = ahead ? 'ahead' : decoded.clockSuspect && board.synced >= BAD_LEAST ? 'lost' : null
  const { clock } = board
  if (trouble !== null) {
    if (clock === null || clock.trouble !== trouble) board.clock = { trouble, since: at, bad: 1, good: 0 }
    else {
      clock.bad += 1
      clock.good = 0
    }
    return
  }
  if (decoded.samples.length === 0 || decoded.clockSuspect) return
  if (board.synced < BAD_LEAST) board.synced += 1
  if (clock === null) return
  clock.good += 1
  if (clock.good >= GOOD_LEAST) board.clock = null
}
