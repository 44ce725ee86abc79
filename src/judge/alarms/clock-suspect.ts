import { SECOND } from '../../model/time.js'
import { defineAlarm, holding, QUIET, type Telling, type Verdict, type View, type Watch } from '../definition.js'
import { evidence, evidenceList, titleWith } from '../phrase.js'

function look({ daemon }: View): readonly Verdict[] {
  if (daemon.suspectClocks.length === 0) return QUIET
  return daemon.suspectClocks.map(({ board, since, aheadS, lost }) =>
    holding(board, since, lost === true ? 'jumps' : 'ahead', evidenceList(evidence('Ahead by', 'duration', aheadS))),
  )
}

function words({ verdict, since, say }: Telling) {
  const ahead = verdict.evidence[0]?.value ?? null
  const by = ahead === null ? 'by how much is not known' : `by ${say.span(ahead * SECOND)}`
  return {
    title: titleWith('Clock in doubt: board ', verdict.subject, ''),
    what:
      verdict.cause === 'jumps'
        ? `Since ${say.time(since)} the board ${verdict.subject} has sent the times of a clock that was never set (1970, 2036 or the like; usually they are right within 5 s). Each reading is kept at the time of its receipt, so nothing is lost while the link holds.`
        : `Since ${say.time(since)} the times that the board ${verdict.subject} sends lie ahead (${by}, usually 0 s). Its readings are refused until they are right, since nothing can be measured in the future.`,
    causes: [
      'The board has no clock of its own and has not been given the time since it started.',
      'Its clock battery is empty, or its time zone is set wrong.',
    ],
    action: 'See that the board gets its time from the network, or let it send times relative to now.',
    ifIgnored:
      verdict.cause === 'jumps'
        ? 'A backlog from this board after an outage of hours is put at a wrong time.'
        : 'What this board measures is not seen, and alarms that rest on it cannot come.',
    caution: null,
    timeLeft: null,
  }
}

export const clockSuspect = defineAlarm({
  id: 'clock-suspect',
  meaning: "A board's times lie ahead, or have jumped to where a clock stands that was never set.",
  toldWithin: 'ahead: its third message; jumped: 10 min, as a board that has restarted needs to get the time',
  needs: 'nothing further',
  causes: {
    ahead: 'Its times lie ahead: refused.',
    jumps: 'It had the time and has lost it: its readings are kept at their receipt.',
  },
  advice: 'Let the board get its time from the network.',
  explainedBy: [{ by: 'clock-suspect', withinMs: 1_800_000 }],
  clock: 'now',
  prepare: (): Watch => ({ look, words }),
})
