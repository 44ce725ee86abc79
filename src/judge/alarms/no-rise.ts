import { MINUTE } from '../../model/time.js'
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
import { CAUTION_ICE, CAUTION_PUMP, steadyCurrentA, tankState, usualCurrentA, waterLeft } from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)
const PAUSE_MS = 30 * MINUTE
/** Near this the line may hold ice. */
const ICE_LIKELY_C = 1

function look(view: View, { site, numbers }: Prepared<'no-rise'>) {
  const { pump, water } = view.facts
  if (!pump.known) return UNKNOWN
  if (!pump.running) return pump.lastEnd === 'full' ? QUIET : UNKNOWN
  if (!pump.settled) return UNKNOWN
  if (water.atHighSince !== null || water.pastFullSince !== null) return UNKNOWN
  if (water.noRiseSince === null) return water.arriving === true ? QUIET : UNKNOWN
  // In a fill that is told as long, water did arrive: a pause may be a draw as large as the flow.
  if (view.isActive('fill-long', PUMP) && view.at - water.noRiseSince < PAUSE_MS) return UNKNOWN
  const current = steadyCurrentA(pump)
  const usual = usualCurrentA(pump, site)
  if (current === null || usual === null || usual <= 0) return UNKNOWN
  const ratio = current / usual
  if (ratio < numbers.low_ratio || ratio >= numbers.stalled_ratio) return UNKNOWN
  const cause = ratio >= numbers.blocked_ratio ? 'pushes-against' : 'goes-elsewhere'
  return [
    holding(
      PUMP,
      water.noRiseSince,
      cause,
      evidenceList(
        evidence('Pump current', 'current', current, usual),
        evidence('Water arrived', 'volume', water.seenRiseL, water.expectedRiseL),
        evidence('Running for', 'duration', pump.ranS, water.expectedFillS),
        evidence('Coldest line', 'temperature', coldestC(view)),
      ),
    ),
  ]
}

function coldestC({ facts }: View): number | null {
  let coldest: number | null = null
  for (const { temperatureC } of facts.lines) {
    if (temperatureC !== null && (coldest === null || temperatureC < coldest)) coldest = temperatureC
  }
  return coldest
}

function words({ view, verdict, since, say }: Telling) {
  const { water } = view.facts
  const blocked = verdict.cause === 'pushes-against'
  const current = verdict.evidence[0]
  const amps = say.besideUsual('current', current?.value ?? null, current?.usual ?? null)
  const coldest = coldestC(view)
  const cold = coldest !== null && coldest <= ICE_LIKELY_C
  const arrived = say.quantity('volume', water.seenRiseL)
  const rise =
    water.expectedRiseL === null
      ? `${tankState(view.facts, say)}.`
      : `${arrived} arrived where ${say.quantity('volume', water.expectedRiseL)} should have; ${tankState(view.facts, say)}.`
  const ice = cold ? ['Ice in the line: a line is near or below freezing.'] : []
  return {
    title: blocked ? 'Pump pushes hard but no water arrives' : 'Pump runs as usual but no water arrives',
    what: `No water has been seen to arrive since ${say.time(since)} though the pump runs, at ${amps}: ${rise}`,
    causes: blocked
      ? [
          ...ice,
          'A shut valve, a clogged filter or a blocked line.',
          ...(cold ? [] : ['Ice in the line, if it is cold there.']),
        ]
      : [
          'A broken or split pipe, or an open drain, between pump and tank.',
          'Water is used as fast as it comes.',
          ...ice,
          'The level sensor stands still: compare it with the tank.',
        ],
    action: blocked
      ? 'Switch the pump off, then look for a shut valve, a clogged filter or ice before it runs again.'
      : 'Switch the pump off, see whether the tank truly stands still, then look for water along the line and listen at the well.',
    ifIgnored: 'The pump may run on until the battery is empty, and the water is lost or the line bursts.',
    caution: cold ? CAUTION_ICE : CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

export const noRise = defineAlarm({
  id: 'no-rise',
  meaning: 'The pump runs at its usual current, or harder, and no water arrives.',
  toldWithin: '10 min',
  needs: '`pump-current`, `tank-level` (or a meter), a learned flow and a usual current',
  causes: {
    'goes-elsewhere': 'The current is as usual: the water goes elsewhere, or the level sensor stands still.',
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
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
