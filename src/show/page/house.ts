/** What the page rests on: when each board was last heard, what is doubted, how far it has learned, how it tells. */
import type { z } from 'zod'
import type { RefusedBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import { el, table } from './dom.js'
import { duration, type People, signalWords } from './people.js'

const DOUBT_WORDS: Readonly<Record<string, string>> = {
  'probes-contradict': 'contradicts another probe',
  stuck: 'stands still though it should move',
  'failed-values': 'says often that it has failed',
  'too-fast': 'jumps faster than it can',
  'contact-chatter': 'chatters',
  missing: 'is missing',
  'not-possible': 'says what cannot be',
}

export function learningPart(now: NowBody): HTMLElement {
  const { learning, complete_fills: fills, needed_fills: needed } = now.learning
  const words = learning
    ? `Still learning what is usual here: ${Math.min(fills, needed)} of ${needed} complete fills. Until then only hard limits raise an alarm.`
    : `What is usual here rests on ${fills} complete fills.`
  return el('p', {}, words)
}

export function boardsPart(now: NowBody, people: People): HTMLElement[] {
  const rows = now.boards.map((board) => [
    board.id,
    people.ago(board.last_heard),
    `every ${duration(board.expect_every_s)}`,
    board.quiet ? 'silent' : 'heard',
  ])
  const parts: HTMLElement[] = [
    table('When each was last heard', ['Board', 'Last heard', 'Expected', 'Now'], rows),
    learningPart(now),
  ]
  const failed = now.latest
    .filter((one) => one.failed)
    .map((one) => `${signalWords(one.key)}: the sensor says that it has failed`)
  const doubts = now.suspects.map(
    (one) => `${signalWords(one.key)} ${DOUBT_WORDS[one.kind] ?? one.kind}, since ${people.when(one.since)}`,
  )
  const lines = [...failed, ...doubts]
  if (lines.length > 0) {
    parts.push(el('h3', {}, 'Not believed'), el('ul', {}, ...lines.map((words) => el('li', {}, words))))
  }
  return parts
}

export function waysPart(now: NowBody, people: People): HTMLElement[] {
  if (now.ways.length === 0) {
    return [el('p', { class: 'caution' }, 'Nobody is told of anything: no way of telling is configured.')]
  }
  const rows = now.ways.map((way) => [
    way.way,
    way.kind,
    way.proved_at === null ? 'never' : `${people.when(way.proved_at)}`,
    way.error ?? 'none',
  ])
  return [table('Ways of telling', ['Way', 'Kind', 'Last proved', 'Trouble'], rows)]
}

type Refused = z.infer<typeof RefusedBody>

/** Examples are shown as they were sent: as text, never as anything else. */
export function refusedPart(refused: readonly Refused[], people: People): HTMLElement[] {
  if (refused.length === 0) return []
  const rows = refused.map((one) => [
    one.reason,
    one.board === '' ? 'no board' : one.board,
    String(one.count),
    people.when(one.last),
    el('code', {}, one.example),
  ])
  const head = ['Reason', 'Board', 'Times', 'Last', 'Example, as it was sent']
  return [el('details', {}, el('summary', {}, 'Records that were not believed'), table('Refused records', head, rows))]
}
