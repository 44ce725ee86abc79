import { MINUTE } from '../../model/time.js'
import { causesInWords, diagnosisOf } from '../diagnosis/causes.js'
import { coldestLineC } from '../diagnosis/cold.js'
import type { RowId } from '../diagnosis/rows.js'
import { waterShown } from '../diagnosis/shown.js'
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
import { CAUTION_ICE, CAUTION_PUMP, steadyCurrentA, tankState, usualCurrentA, waterAndCutOff } from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)
const PAUSE_MS = 30 * MINUTE
/** Near this the line may hold ice. */
const ICE_LIKELY_C = 1

function look(view: View, { site, numbers }: Prepared<'no-rise'>) {
  const { pump, water } = view.facts
  if (!pump.known) return UNKNOWN
  if (!pump.running) return pump.lastEnd === 'full' ? QUIET : UNKNOWN
  if (!pump.settled || view.facts.episode.chatterSince !== null) return UNKNOWN
  if (water.atHighSince !== null || water.pastFullSince !== null) return UNKNOWN
  const pushed = pushesEarly(view, numbers)
  if (pushed !== null) return [pushed]
  if (water.noRiseSince === null) return water.arriving === true ? QUIET : UNKNOWN
  // In a fill that is told as long, water did arrive: a pause may be a draw as large as the flow.
  if (view.isActive('fill-long', PUMP) && view.at - water.noRiseSince < PAUSE_MS) return UNKNOWN
  const current = steadyCurrentA(pump)
  const usual = usualCurrentA(pump, site)
  if (current === null || usual === null || usual <= 0) return UNKNOWN
  const ratio = current / usual
  if (ratio < numbers.low_ratio || ratio >= numbers.stalled_ratio) return UNKNOWN
  const cause = ratio >= numbers.blocked_ratio ? 'pushes-against' : named(view)
  const verdict = holding(PUMP, water.noRiseSince, cause, numbersSeen(view, current, usual))
  return water.arrivedAt === null ? [verdict] : [{ ...verdict, onDelayS: AFTER_ARRIVAL_DELAY_S }]
}

/** Where water did arrive in this run, a draw as large as the flow is likelier than a break: as late as may be told. */
const AFTER_ARRIVAL_DELAY_S = 585

const ELSEWHERE: readonly RowId[] = ['water-lost', 'drawn', 'level-still']
const AGAINST: readonly RowId[] = ['blocked', 'iced']

/** With probes only, a fouled low probe looks like water that never comes, until the high one gets wet. */
function among(view: View): readonly RowId[] {
  const { levelM, lowWet } = view.facts.water
  return levelM === null && lowWet === false ? ['water-lost', 'drawn', 'probe-fouled'] : ELSEWHERE
}

function named(view: View): string {
  return diagnosisOf(view, among(view)).row === 'level-still' ? 'level-still' : 'goes-elsewhere'
}

function numbersSeen(view: View, current: number, usual: number) {
  const { pump, water, evidence: seen } = view.facts
  return evidenceList(
    evidence('Pump current', 'current', current, usual),
    evidence('Pump power', 'power', seen.powerW, seen.usualPowerW?.value),
    evidence('Water arrived', 'volume', water.seenRiseL, water.expectedRiseL),
    evidence('Running for', 'duration', pump.ranS, water.expectedFillS),
    evidence('Coldest line', 'temperature', coldestLineC(view.facts)),
  )
}

/** Samples of raised power that are more than a stiff start, and how long it must stand where no level can confirm it. */
const RAISED_SAMPLES = 12
const RAISED_ALONE_MS = 4 * MINUTE
/** Nothing but a block raises it so far for so long; sand or a tight stator raise it less. */
const RAISED_ALONE_RATIO = 1.35

/**
 * A pump that works a quarter harder than usual, and steadily, pushes against something: the watts say so within
 * minutes. The level confirms it as soon as the expected rise stands out of its noise; where there is none, or where it
 * cannot show it, the watts must be plainer and stand longer.
 */
function pushesEarly(view: View, numbers: Prepared<'no-rise'>['numbers']) {
  const { pump, evidence: seen, water } = view.facts
  const current = steadyCurrentA(pump)
  const usual = pump.usualA?.value ?? null
  if (seen.raisedSince === null || seen.raisedCount < RAISED_SAMPLES || current === null || usual === null) return null
  const watts = seen.powerShare ?? current / usual
  if (
    current < numbers.blocked_ratio * usual ||
    watts < numbers.blocked_ratio ||
    current >= numbers.stalled_ratio * usual
  ) {
    return null
  }
  const shown = waterShown(view.facts)
  if (shown === 'arrives' || (shown === 'unknown' && water.arriving === true)) return null
  const alone = watts >= RAISED_ALONE_RATIO && view.at - seen.raisedSince >= RAISED_ALONE_MS
  if (shown === 'unknown' && !alone) return null
  const verdict = holding(PUMP, seen.raisedSince, 'pushes-against', numbersSeen(view, current, usual))
  return { ...verdict, onDelayS: RAISED_DELAY_S }
}

const RAISED_DELAY_S = 120

function words({ view, verdict, since, say }: Telling) {
  const { water } = view.facts
  const blocked = verdict.cause === 'pushes-against'
  const current = verdict.evidence[0]
  const amps = say.besideUsual('current', current?.value ?? null, current?.usual ?? null)
  const coldest = coldestLineC(view.facts)
  const cold = coldest !== null && coldest <= ICE_LIKELY_C
  const arrived = say.quantity('volume', water.seenRiseL)
  const rise =
    water.expectedRiseL === null
      ? `${tankState(view.facts, say)}.`
      : `${arrived} arrived where ${say.quantity('volume', water.expectedRiseL)} should have; ${tankState(view.facts, say)}.`
  const sure = water.noRiseSince !== null || waterShown(view.facts) === 'none'
  const causes = causesInWords(diagnosisOf(view, blocked ? AGAINST : among(view)))
  return {
    title: blocked
      ? sure
        ? 'Pump pushes hard but no water arrives'
        : 'Pump pushes hard, probably no water arrives'
      : 'Pump runs as usual but no water arrives',
    what: sure
      ? `No water has been seen to arrive since ${say.time(since)} though the pump runs, at ${amps}: ${rise}`
      : `The pump has worked far harder than usual since ${say.time(since)}, at ${amps}; whether water arrives cannot be measured yet: ${rise}`,
    causes: coldest === null && blocked ? [...causes, 'Ice in the line, if it is cold there.'] : causes,
    action: blocked
      ? 'Switch the pump off, then look for a shut valve, a clogged filter or ice before it runs again.'
      : 'Switch the pump off, see whether the tank truly stands still, then look for water along the line and listen at the well.',
    ifIgnored: 'The pump may run on until the battery is empty, and the water is lost or the line bursts.',
    caution: cold ? CAUTION_ICE : CAUTION_PUMP,
    timeLeft: waterAndCutOff(view.facts, say),
  }
}

export const noRise = defineAlarm({
  id: 'no-rise',
  meaning: 'The pump runs at its usual current, or harder, and no water arrives.',
  toldWithin: '10 min; 5 min where the pump pushes against something',
  needs: '`pump-current`, `tank-level` (or a meter), a learned flow and a usual current',
  causes: {
    'goes-elsewhere': 'The current is as usual: the water goes elsewhere, or the level sensor stands still.',
    'level-still': 'The current is as usual and the level repeats one value: probably the sensor, not the water.',
    'pushes-against': 'The current is raised: something is shut, clogged or frozen.',
  },
  advice: 'Switch the pump off and look along the line.',
  explainedBy: [
    { by: 'dry-well' },
    { by: 'pump-stalled' },
    { by: 'overfill' },
    { by: 'freezing' },
    { by: 'fill-long', causes: ['runs-while-winterized'] },
    { by: 'tank-low' },
  ],
  surerCauses: ['level-still'],
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
