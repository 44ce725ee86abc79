import { defineAlarm, holding, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'

function look({ daemon, now }: View) {
  if (daemon.storeFailingSince === null) return QUIET
  const failingS = (now - daemon.storeFailingSince) / 1_000
  return [
    holding(
      'store',
      daemon.storeFailingSince,
      'cannot-write',
      evidenceList(evidence('Failing for', 'duration', failingS)),
    ),
  ]
}

function words({ view, since, say }: Telling) {
  const answer = view.daemon.storeError === null ? 'it gave no reason' : `its answer: ${view.daemon.storeError}`
  return {
    title: 'The store cannot be written',
    what: `Nothing could be stored since ${say.time(since)}, for ${say.span(view.now - since)} (usually every few seconds): ${answer}.`,
    causes: [
      'The disk is full.',
      'The file system is read-only or its card is worn out.',
      'The file of the store is damaged or may not be written.',
    ],
    action: 'Free space on the computer, look whether its disk can be written, then restart the program.',
    ifIgnored:
      'Boards keep their readings and send them again only for as long as their memory lasts, often some hours; the rest is lost.',
    caution: null,
    timeLeft: null,
  }
}

export const storeFailing = defineAlarm({
  id: 'store-failing',
  meaning: 'The daemon cannot write its store.',
  toldWithin: '1 min',
  needs: 'nothing further',
  causes: { 'cannot-write': 'Commits fail, or take longer than allowed.' },
  advice: 'Free space, look at the disk, restart.',
  explainedBy: [],
  quietInMaintenance: false,
  clock: 'now',
  prepare: (): Watch => ({ look, words }),
})
