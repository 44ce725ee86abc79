import { below } from '../delay.js'
import {
  defineAlarm,
  holding,
  type Prepared,
  QUIET,
  type Telling,
  unknownOf,
  type View,
  type Watch,
} from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { batteryVoltage, CAUTION_TANK, tankLasts, waterLeft } from './common.js'

const TANK = 'tank'
const UNKNOWN = unknownOf(TANK)

function look(view: View, { site, numbers }: Prepared<'tank-low'>) {
  const reserveL = site.tank?.reserveL ?? null
  const { volumeL, levelM, drawLH } = view.facts.water
  if (reserveL === null) return QUIET
  if (volumeL === null) return UNKNOWN
  if (!below(volumeL, reserveL, numbers.deadband * reserveL, view.isActive('tank-low', TANK))) return QUIET
  return [
    holding(
      TANK,
      null,
      'below-reserve',
      evidenceList(
        evidence('Water left', 'volume', volumeL),
        evidence('Reserve', 'volume', reserveL),
        evidence('Tank level', 'level', levelM),
        evidence('Usual draw in an hour', 'volume', drawLH),
      ),
    ),
  ]
}

function words({ view, since, say }: Telling, { site }: Prepared<'tank-low'>) {
  const { facts } = view
  const { volumeL, volumeSdL, reckoned } = facts.water
  const left = reckoned
    ? `about ${say.quantity('volume', volumeL)} (reckoned from the last mark, ± ${say.quantity('volume', volumeSdL)})`
    : say.quantity('volume', volumeL)
  return {
    title: 'Little water left in the tank',
    what: `The tank has held less than its reserve of ${say.quantity('volume', site.tank?.reserveL ?? null)} since ${say.time(since)}: ${left} left.`,
    causes: pumpStory(view, say),
    action: facts.pump.running
      ? 'Save water until the tank has risen, and see whether it does rise.'
      : 'Save water, and find out why the pump does not fill the tank.',
    ifIgnored: `The taps run dry: ${tankLasts(facts, say)}.`,
    caution: CAUTION_TANK,
    timeLeft: waterLeft(facts, say),
  }
}

function pumpStory({ facts }: View, say: Telling['say']): readonly string[] {
  const { pump } = facts
  const leak = 'A leak or an open tap.'
  if (!pump.known) return ['More is used than comes in; whether the pump runs is not known now.', leak]
  if (pump.running) return [`More is used than the pump brings; it has run since ${say.time(pump.since)}.`, leak]
  const last = pump.lastEndAt === null ? 'no run of it is known' : `its last run ended ${say.time(pump.lastEndAt)}`
  return [`The pump is at rest: ${last}, ${batteryVoltage(facts, say)}.`, 'More is used than usual.', leak]
}

export const tankLow = defineAlarm({
  id: 'tank-low',
  meaning: 'The water left is below `reserve`.',
  toldWithin: '2 min',
  needs: '`reserve` in the configuration, `tank-level` or the probes',
  causes: { 'below-reserve': 'Less water than the reserve is left.' },
  advice: 'Save water and find out why the tank is not filled.',
  explainedBy: [
    { by: 'dry-well' },
    { by: 'pump-stalled' },
    { by: 'pump-no-start' },
    { by: 'no-rise' },
    { by: 'leak' },
    { by: 'battery-low' },
    { by: 'freezing' },
  ],
  quietWhenWinterized: true,
  prepare: (prepared): Watch => ({
    look: (view) => look(view, prepared),
    words: (telling) => words(telling, prepared),
  }),
})
