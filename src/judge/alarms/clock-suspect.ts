import { SECOND } from '../../model/time.js'
import { defineAlarm, holding, QUIET, type Telling, type Verdict, type View, type Watch } from '../definition.js'
import { evidence, evidenceList, titleWith } from '../phrase.js'

function look({ daemon }: View): readonly Verdict[] {
  if (daemon.suspectClocks.length === 0) return QUIET
  return daemon.suspectClocks.map(({ board, since, aheadS }) =>
    holding(
      board,
      since,
      aheadS !== null && aheadS > 0 ? 'ahead' : 'jumps',
      evidenceList(evidence('Ahead by', 'duration', aheadS)),
    ),
  )
}

function words({ verdict, since, say }: Telling) {
  const ahead = verdict.evidence[0]?.value ?? null
  const by = ahead === null ? 'by how much is not known' : `by ${say.span(ahead * SECOND)}`
  return {
    title: titleWith('Clock in doubt: board ', verdict.subject, ''),
    what: `Since ${say.time(since)} the times that the board ${verdict.subject} sends jump or lie ahead (${by}, usually 0 s). The time of receipt stands in for them where that can be.`,
    causes: [
      'The board has no clock of its own and has not been given the time since it started.',
      'Its clock battery is empty, or its time zone is set wrong.',
    ],
    action: 'See that the board gets its time from the network, or let it send times relative to now.',
    ifIgnored: 'A backlog from this board after an outage of hours may be refused or put at a wrong time.',
    caution: null,
    timeLeft: null,
  }
}

export const clockSuspect = defineAlarm({
  id: 'clock-suspect',
  meaning: "A board's times jump or lie ahead.",
  toldWithin: 'at once',
  needs: 'nothing further',
  causes: { ahead: 'Its times lie ahead.', jumps: 'Its times jump.' },
  advice: 'Let the board get its time from the network.',
  explainedBy: [{ by: 'clock-suspect', withinMs: 1_800_000 }],
  clock: 'now',
  prepare: (): Watch => ({ look, words }),
})
