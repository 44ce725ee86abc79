import { DAY, HOUR, SECOND } from '../../model/time.js'
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
import { evidence, evidenceList } from '../phrase.js'
import { CAUTION_TANK } from './common.js'

const TANK = 'tank'
const UNKNOWN = unknownOf(TANK)
/** People are there again when somebody has drawn within this time. */
const DRAWN_LATELY_MS = 12 * HOUR
/** Turned over again at this share of the limit: each fill adds water that has yet to be drawn. */
const ENDS_AT = 0.7

function look(view: View, { numbers }: Prepared<'stale-water'>): readonly Verdict[] {
  const { loss } = view.facts
  const { turnoverDays, usualTurnoverDays } = loss
  if (turnoverDays === null || usualTurnoverDays === null) return UNKNOWN
  const limit = limitDays(usualTurnoverDays, numbers)
  const active = view.isActive('stale-water', TANK)
  if (turnoverDays <= (active ? ENDS_AT : 1) * limit) return loss.turnoverAtLeast ? UNKNOWN : QUIET
  if (!somebodyIsThere(view)) return UNKNOWN
  return [
    holding(
      TANK,
      view.at - turnoverDays * DAY,
      'stands',
      evidenceList(
        evidence('Days since it was all drawn', 'duration', turnoverDays * 86_400, usualTurnoverDays * 86_400),
        evidence('Stored', 'volume', view.facts.water.volumeL),
        evidence('Usual use in a day', 'volume', loss.usualDayL?.valueL ?? null),
      ),
    ),
  ]
}

function limitDays(usual: number, numbers: Prepared<'stale-water'>['numbers']): number {
  return Math.max((numbers.turnover * SECOND) / DAY, numbers.usual_factor * usual)
}

/** Nobody drinks from the tank of an empty place: it waits until they are back. */
function somebodyIsThere({ facts, awaySince, at }: View): boolean {
  const { lastDrawAt, seemsEmpty } = facts.loss
  if (awaySince !== null) return false
  return seemsEmpty === null || (lastDrawAt !== null && at - lastDrawAt < DRAWN_LATELY_MS)
}

function words({ view, verdict, since, say }: Telling) {
  const { loss, water } = view.facts
  const days = verdict.evidence[0]
  const stood = say.besideUsual('duration', days?.value ?? null, days?.usual ?? null)
  return {
    title: 'Water has stood long in the tank',
    what: `The ${say.quantity('volume', water.volumeL)} in the tank have not been drawn once since ${say.time(since)}, ${loss.turnoverAtLeast ? 'at least ' : ''}${stood}. Utilities turn stored drinking water over every 3 to 5 days.`,
    causes: ['Little was used: the place was empty, or the tank is large for its use.'],
    action:
      'Let the taps run until the water is fresh and cool, or draw some of the tank off. Before drinking after a long time, have the water tested or follow the local health authority. If it stands often, lower the marks while few are there.',
    ifIgnored: 'What kept the water sound is used up: taste, smell and germs can grow, sooner in warm weather.',
    caution: CAUTION_TANK,
    timeLeft: null,
  }
}

export const staleWater = defineAlarm({
  id: 'stale-water',
  meaning:
    'The stored water has not been drawn once within `turnover`, and far longer than is usual here. Waits until people are there.',
  toldWithin: 'that day',
  needs: 'a tank, `tank-level` or the probes, some whole days of use',
  causes: { stands: 'Less was drawn than the tank holds.' },
  advice: 'Let the taps run until the water is fresh, or draw some off; lower the marks where it stands often.',
  // Where the pump cannot fill, or nothing tells of the water, the tank stands for that reason.
  explainedBy: [
    { by: 'battery-low' },
    { by: 'pump-no-start' },
    { by: 'pump-stalled' },
    { by: 'dry-well' },
    { by: 'no-rise' },
    { by: 'tank-low' },
    { by: 'board-silent' },
    { by: 'site-silent' },
    { by: 'sensor-suspect' },
  ],
  quietWhenWinterized: true,
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
