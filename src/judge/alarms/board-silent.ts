import type { AlarmWords } from '../../model/alarm.js'
import type { BoardFacts } from '../../model/facts.js'
import { LIMITS } from '../../model/limits.js'
import { MINUTE, type Ms, SECOND } from '../../model/time.js'
import {
  defineAlarm,
  holding,
  type Prepared,
  QUIET,
  type Telling,
  unknownOf,
  type Verdict,
  type View,
  type Watch,
} from '../definition.js'
import { evidence, evidenceList, titleWith } from '../phrase.js'

/** A board that has never said a word is given longer: it may be being fitted. */
const NEVER_HEARD_FACTOR = 3

function look(view: View, { numbers }: Prepared<'board-silent'>): readonly Verdict[] {
  const { boards } = view.facts
  if (boards.length < 2 && view.daemon.unreadable.length === 0) return QUIET
  let found: Verdict[] | null = null
  for (const board of boards) {
    const verdict = lookAt(view, board, numbers.intervals, numbers.at_least)
    if (verdict === null) continue
    found ??= []
    found.push(verdict)
  }
  return found ?? QUIET
}

function lookAt(view: View, board: BoardFacts, intervals: number, atLeastS: number): Verdict | null {
  const from = silentFrom(view, board)
  if (from === null) return null
  const limitS =
    Math.max(intervals * board.expectEveryS, atLeastS) * (board.lastHeard === null ? NEVER_HEARD_FACTOR : 1)
  const silentMs = view.at - from
  if (silentMs < limitS * SECOND) return null
  const unread = view.daemon.unreadable.find((one) => one.board === board.id)
  if (unread !== undefined)
    return holding(
      board.id,
      from,
      'unreadable',
      evidenceList(evidence('Messages that cannot be read', 'count', unread.count)),
    )
  const others = othersTalk(view, board, from)
  if (others === 'unknown') return unknownOf(board.id)[0] ?? null
  if (!others) return null
  return holding(
    board.id,
    from,
    board.lastHeard === null ? 'never-heard' : 'stopped',
    evidenceList(evidence('Silent for', 'duration', silentMs / SECOND, board.expectEveryS)),
  )
}

/**
 * From when its silence counts: its last word, or when we began to listen, whichever is later. After an outage of the
 * whole site every board has its full time again, for the first word of one comes seconds before that of another.
 */
function silentFrom({ facts, daemon, heardAgainAt, isActive }: View, board: BoardFacts): Ms | null {
  const heard = board.lastHeard ?? facts.firstHeard
  if (heard === null) return null
  const again = isActive('board-silent', board.id) ? null : heardAgainAt
  return Math.max(heard, daemon.listeningSince ?? heard, again ?? heard)
}

/**
 * Whether other boards have gone on talking. If they stopped as well, the board cannot be blamed and the silence of
 * the whole site is another alarm.
 */
function othersTalk({ facts, at }: View, board: BoardFacts, from: Ms): boolean | 'unknown' {
  let after = false
  for (const other of facts.boards) {
    if (other.id === board.id || other.lastHeard === null) continue
    if (other.lastHeard <= from + 2.5 * board.expectEveryS * SECOND) continue
    after = true
    if (at - other.lastHeard <= Math.max(3 * other.expectEveryS * SECOND, MINUTE)) return true
  }
  return after ? 'unknown' : false
}

function unreadable({ view, verdict, since, say }: Telling): AlarmWords {
  const unread = view.daemon.unreadable.find((one) => one.board === verdict.subject)
  return {
    title: titleWith('Board ', verdict.subject, ' talks but cannot be read'),
    what: `Since ${say.time(since)} nothing that the board ${verdict.subject} says can be read: ${unread?.count ?? 0} messages in ${say.span(view.at - since)}, refused as "${unread?.reason ?? 'not known'}" (usually none).`,
    causes: [
      'New firmware or settings: another form, other names or other units than the configuration has.',
      'Its program or memory is damaged, so that messages are cut off or garbled.',
      'Another device sends to its topic.',
    ],
    action:
      'Look at the refused records and the messages kept aside: they show what came. Then compare with the configuration.',
    ifIgnored: 'Alarms that rest on this board cannot be raised or end, for as long as it cannot be read.',
    caution: null,
    timeLeft: null,
  }
}

function words(telling: Telling, { site }: Prepared<'board-silent'>): AlarmWords {
  const { view, verdict, since, say } = telling
  if (verdict.cause === 'unreadable') return unreadable(telling)
  const never = verdict.cause === 'never-heard'
  const board = view.facts.boards.find((one) => one.id === verdict.subject)
  const expected = say.span((board?.expectEveryS ?? 0) * SECOND)
  const signals = site.boards.find((one) => one.id === verdict.subject)?.signals.map((signal) => signal.name) ?? []
  const lost = signals.length === 0 ? '' : ` Not known meanwhile: ${signals.slice(0, 6).join(', ')}.`
  return {
    title: titleWith('Nothing heard from board ', verdict.subject, ''),
    what: never
      ? `The board ${verdict.subject} has never been heard, though other boards have talked since ${say.time(since)}; it is expected every ${expected}.${lost}`
      : `The board ${verdict.subject} has been silent since ${say.time(since)}, ${say.span(view.at - since)} (usually heard every ${expected}), while other boards still talk.${lost}`,
    causes: never
      ? ['Its topic, account or signal names differ from the configuration.', 'It is not powered or not fitted yet.']
      : ['Its power supply, fuse or battery.', 'Its radio link or aerial.', 'Its program has stopped.'],
    action: never
      ? 'Compare its topic and account with the configuration, and look among the refused records.'
      : 'Restart the board by its power switch, then look at its supply and aerial.',
    ifIgnored: 'Alarms that rest on this board cannot be raised or end, for as long as it is silent.',
    caution: null,
    timeLeft: null,
  }
}

export const boardSilent = defineAlarm({
  id: 'board-silent',
  meaning: 'Nothing for several expected intervals from one board while others talk, by the age of its data alone.',
  toldWithin: '5 × `expect_every`, 5 min at least',
  needs: 'two boards or more',
  causes: {
    stopped: 'The board was heard before.',
    'never-heard': 'The board was never heard since the site began.',
    unreadable: 'It talks, and nothing of it can be read.',
  },
  advice: 'Restart the board, look at its supply and aerial.',
  explainedBy: [
    { by: 'site-silent' },
    { by: 'battery-low' },
    { by: 'store-failing' },
    { by: 'board-silent', withinMs: LIMITS.siblingWindowMs },
  ],
  prepare: (prepared): Watch => ({
    look: (view) => look(view, prepared),
    words: (telling) => words(telling, prepared),
  }),
})
