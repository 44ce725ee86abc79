import { SECOND } from '../../model/time.js'
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
import {
  CAUTION_PUMP,
  endedAsUsual,
  steadyCurrentA,
  tankState,
  usualCurrentA,
  waterArrivedSince,
  waterLeft,
} from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)

/** While the site is being learned, only a fall to this share of the run's own current counts. */
const LEARNING_RATIO = 0.65
/** A run that went light must have fallen this far from its own band. */
const OWN_BAND_RATIO = 0.85

function look(view: View, { site, numbers }: Prepared<'dry-well'>) {
  const { pump } = view.facts
  if (!pump.known) return UNKNOWN
  if (!pump.running) return stopped(view, numbers.stop_counts_for)
  if (!pump.settled) return UNKNOWN
  if (pump.lightSince === null) return QUIET
  const current = steadyCurrentA(pump)
  const usual = usualCurrentA(pump, site)
  if (current === null || pump.lightCount < numbers.samples) return UNKNOWN
  if (pump.lightFromStart && view.at - pump.lightSince < numbers.from_start * SECOND) return UNKNOWN
  if (waterArrivedSince(view.facts, pump.lightSince)) return QUIET
  if (!isLight(view, current, usual, numbers.light_ratio)) return UNKNOWN
  const cause = pump.lightFromStart ? 'light-from-start' : 'went-light'
  return [holding(PUMP, pump.lightSince, cause, numbersSeen(view, usual))]
}

function isLight(view: View, current: number, usual: number | null, ratio: number): boolean {
  const { pump, water } = view.facts
  if (view.facts.learning) {
    return water.noRiseSince !== null && pump.runA !== null && current < LEARNING_RATIO * pump.runA
  }
  if (usual !== null && current >= ratio * usual) return false
  if (pump.lightFromStart) return usual !== null
  return pump.runA === null ? usual !== null : current < OWN_BAND_RATIO * pump.runA
}

/** At rest the well cannot be told: only a fresh stop for dryness says more, and only a full tank says it is over. */
function stopped(view: View, countsForS: number) {
  const { pump } = view.facts
  if (pump.lastEnd === 'full') return QUIET
  if (pump.lastEnd !== 'dry' || pump.lastEndAt === null) return UNKNOWN
  if (endedAsUsual(pump)) return UNKNOWN
  if (view.at - pump.lastEndAt > countsForS * SECOND) return UNKNOWN
  const usual = pump.usualA?.value ?? null
  // Before the site is known, its control's word is taken only with a current that no pipe or battery explains.
  const plainly = pump.lastEndA !== null && usual !== null && pump.lastEndA < LEARNING_RATIO * usual
  if (view.facts.learning && !plainly) return UNKNOWN
  return [
    holding(
      PUMP,
      pump.lastEndAt,
      'stopped-by-control',
      evidenceList(evidence('Pump current at the end', 'current', pump.lastEndA, usual)),
    ),
  ]
}

function numbersSeen(view: View, usual: number | null) {
  const { pump, water } = view.facts
  return evidenceList(
    evidence('Pump current', 'current', steadyCurrentA(pump), usual),
    evidence('Earlier in this run', 'current', pump.runA),
    evidence('Water arrived', 'volume', water.seenRiseL, water.expectedRiseL),
    evidence('Running for', 'duration', pump.ranS, water.expectedFillS),
  )
}

function words({ view, verdict, since, say }: Telling) {
  const { pump, water } = view.facts
  const fromStart = verdict.cause === 'light-from-start'
  const byControl = verdict.cause === 'stopped-by-control'
  const current = byControl ? pump.lastEndA : steadyCurrentA(pump)
  const usual = verdict.evidence[0]?.usual ?? pump.runA
  const sure = water.noRiseSince !== null
  const water_ = sure
    ? `No water has been seen to arrive since ${say.time(water.noRiseSince)}; ${tankState(view.facts, say)}.`
    : `Whether water still arrives cannot be measured yet; ${tankState(view.facts, say)}.`
  const what = byControl
    ? `The pump stopped at ${say.time(since)} after its current had fallen to ${say.besideUsual('current', current, usual)}: its control rests the well.`
    : `The pump has run light since ${say.time(since)}: ${say.besideUsual('current', current, usual)}.`
  const lost = 'The pump has lost its prime, or its coupling is broken: from outside they look the same.'
  const dry = 'The well is pumped down to the pump.'
  return {
    title: byControl
      ? 'Pump stopped: well probably dry'
      : sure
        ? 'Pump runs but no water comes'
        : 'Pump runs light, probably no water',
    what: `${what} ${water_}`,
    causes: fromStart ? [lost, dry] : [dry, lost],
    action: byControl
      ? 'Let the well recover; watch whether the next run brings water. If the control does not rest it, switch the pump off.'
      : 'Switch the pump off and let the well recover for an hour, then try again and watch whether the level rises.',
    ifIgnored: 'Some pumps are ruined by minutes of running dry; no water reaches the tank meanwhile.',
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

export const dryWell = defineAlarm({
  id: 'dry-well',
  meaning:
    'The pump runs, water has stopped arriving and the current has fallen below its own running band; or its control has just stopped it for that.',
  toldWithin: '5 min of the water stopping',
  needs: '`pump-current`; `tank-level` makes it sure',
  causes: {
    'went-light': 'The current fell during the run: the well is pumped down, or the prime was lost.',
    'light-from-start':
      'The current was low from the first: lost prime, broken coupling, or a well that is dry at once.',
    'stopped-by-control': "The pump's own control ended the run because it ran dry.",
  },
  advice:
    'Switch the pump off, let the well recover, try again. While the site is being learned it is told only if the current falls far below that of the same run and the water is seen to stop.',
  explainedBy: [{ by: 'pump-stalled' }, { by: 'fill-long', causes: ['runs-while-winterized'] }],
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
