import { defineAlarm, holding, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'

function look({ daemon, now }: View) {
  if (daemon.tellingFailingSince === null) return QUIET
  const failingS = (now - daemon.tellingFailingSince) / 1_000
  return [
    holding(
      'telling',
      daemon.tellingFailingSince,
      'no-way-works',
      evidenceList(evidence('Failing for', 'duration', failingS)),
    ),
  ]
}

function words({ view, since, say }: Telling) {
  const answer =
    view.daemon.tellingError === null ? 'no reason was given' : `the last answer: ${view.daemon.tellingError}`
  return {
    title: 'Messages do not get through',
    what: `Messages have failed to go out since ${say.time(since)}, for ${say.span(view.now - since)} (usually at once): ${answer}.`,
    causes: [
      'The network of this computer is down.',
      'The mail or web service refuses: a changed password, an account that is full or closed.',
    ],
    action: 'Look at the network and the accounts of the ways of telling, then send a test message.',
    ifIgnored:
      'Alarms are shown on the page only; nobody in town hears of them. Messages are tried again for two days (48 h).',
    caution: null,
    timeLeft: null,
  }
}

export const tellingFailing = defineAlarm({
  id: 'telling-failing',
  meaning: 'The daemon cannot deliver its messages by a way of telling.',
  toldWithin: 'the first failed round',
  needs: 'a way of telling',
  causes: { 'no-way-works': 'A round of attempts has failed.' },
  advice: 'Look at the network and the accounts, then send a test message.',
  explainedBy: [],
  quietInMaintenance: false,
  clock: 'now',
  prepare: (): Watch => ({ look, words }),
})
