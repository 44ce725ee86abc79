/** Boards that begin anew: at each start of the pump, or over and over. */
import { HOUR, MINUTE, type Ms, SECOND } from '../../model/time.js'
import type { EngineState } from '../state.js'
import type { BoardTrouble } from './state.js'

/** Longer than this many usual intervals, so that one lost message is none, is a gap; longer than the last figure a silence. */
const GAP_SHARE = 2.3
const GAP_LEAST_S = 8
const GAP_MOST_MS = 10 * MINUTE
/** Starts looked back over, and how many of them with a reset it takes. */
const STARTS_KEPT = 4
const RESETS_LEAST = 3
/** Gaps in an hour that are too many, where they were few. */
const RESTARTS_LEAST = 10
const RESTARTS_USUAL = 3
const GAPS_KEPT = 40

/** A sample of a board after `dt`. Called once for each message's first sample: `before` is its last time. */
export function noteBoard(trouble: BoardTrouble, before: Ms, t: Ms): void {
  const dtS = (t - before) / SECOND
  const { periodS } = trouble
  if (periodS === 0) {
    trouble.periodS = Math.min(dtS, 300)
    return
  }
  if (dtS > GAP_SHARE * periodS && dtS > periodS + GAP_LEAST_S && dtS * SECOND < GAP_MOST_MS) {
    trouble.gapFrom = before
    trouble.gapTo = t
    trouble.gaps.push(t)
    if (trouble.gaps.length > GAPS_KEPT) trouble.gaps.shift()
  } else trouble.periodS += 0.02 * (Math.min(dtS, 2 * periodS) - periodS)
}

/** At a look: was a board gone when the pump started, and how often was it gone at all. */
export function followBoards(state: EngineState, at: Ms): void {
  const { boardTroubles: troubles, pump } = state
  const run = pump.run
  // Some intervals after a start, when the board that was gone has spoken again.
  if (run !== null && run.start !== troubles.startSeen && at - run.firstOn >= 30 * SECOND) {
    troubles.startSeen = run.start
    for (const board of troubles.boards) noteStart(board, run.start, run.firstOn)
  }
  const hour = Math.floor(at / HOUR)
  if (hour === troubles.hour) return
  troubles.hour = hour
  for (const board of troubles.boards) {
    const count = gapsSince(board, at - HOUR)
    if (count < RESTARTS_LEAST) board.usualGaps += (count - board.usualGaps) / 48
  }
}

function noteStart(board: BoardTrouble, start: Ms, firstOn: Ms): void {
  const slackMs = 1.5 * board.periodS * SECOND
  const gone =
    board.gapTo > 0 && board.gapFrom <= firstOn && board.gapTo >= start && board.gapTo - firstOn <= 3 * MINUTE
  const atStart = gone && board.gapFrom >= start - slackMs - (board.gapTo - board.gapFrom)
  board.resets.push(atStart ? 1 : 0)
  board.resetAt.push(start)
  if (board.resets.length > STARTS_KEPT) {
    board.resets.shift()
    board.resetAt.shift()
  }
}

/** Since when the board has been gone at the starts of the pump, and at how many of the last; null: it is not. */
export function resetsAtStart(board: BoardTrouble): { readonly since: Ms; readonly count: number } | null {
  const count = board.resets.reduce((sum, one) => sum + one, 0)
  const first = board.resets.indexOf(1)
  return count < RESETS_LEAST ? null : { since: board.resetAt[first] ?? 0, count }
}

/** Since when the board has been gone again and again, and how often in an hour; null: it is not, or always was. */
export function restartsOften(board: BoardTrouble, at: Ms): { readonly since: Ms; readonly count: number } | null {
  if (board.usualGaps > RESTARTS_USUAL) return null
  const count = gapsSince(board, at - HOUR)
  if (count < RESTARTS_LEAST) return null
  return { since: board.gaps[board.gaps.length - count] ?? at, count }
}

function gapsSince(board: BoardTrouble, from: Ms): number {
  let count = 0
  for (let i = board.gaps.length - 1; i >= 0 && (board.gaps[i] ?? 0) >= from; i -= 1) count += 1
  return count
}
