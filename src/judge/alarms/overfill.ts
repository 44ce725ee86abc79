import type { Ms } from '../../model/time.js'
import { defineAlarm, holding, QUIET, type Telling, unknownOf, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { batteryVoltage, CAUTION_PUMP, steadyCurrentA, tankState, toCutOff } from './common.js'

const TANK = 'tank'
const UNKNOWN = unknownOf(TANK)

function look(view: View) {
  const { pump, water, suspects } = view.facts
  if (water.pastFullSince !== null && !probesContradict(suspects)) {
    return [holding(TANK, water.pastFullSince, pump.running ? 'past-full-running' : 'past-full', numbersSeen(view))]
  }
  if (!pump.known) return UNKNOWN
  if (!pump.running) return QUIET
  if (water.levelM === null && water.highWet === null && water.fullWet === null) return UNKNOWN
  if (water.atHighSince === null) return QUIET
  // A run that a chattering control breaks up counts as one until it has been still for minutes: no word on its stop.
  if (view.facts.episode.chatterSince !== null) return UNKNOWN
  if (probesContradict(suspects)) return UNKNOWN
  const since: Ms = Math.max(water.atHighSince, pump.since ?? water.atHighSince)
  return [holding(TANK, since, 'runs-past-high', numbersSeen(view))]
}

/** A wet high probe over a dry low one proves nothing: that is a probe's fault, told as such. */
function probesContradict(suspects: View['facts']['suspects']): boolean {
  for (const suspect of suspects) {
    if (suspect.kind === 'probes-contradict') return true
  }
  return false
}

function numbersSeen({ facts }: View) {
  const { pump, water } = facts
  return evidenceList(
    evidence('Tank level', 'level', water.levelM),
    evidence('Water in the tank', 'volume', water.volumeL),
    evidence('Pump current', 'current', pump.running ? steadyCurrentA(pump) : null, pump.usualHereA),
    evidence('Running for', 'duration', pump.running ? pump.ranS : null, water.expectedFillS),
  )
}

function words({ view, verdict, since, say }: Telling) {
  const { pump } = view.facts
  const resting = verdict.cause === 'past-full'
  const mark = verdict.cause === 'runs-past-high' ? 'its high mark' : 'its overflow level'
  const running = pump.running
    ? `the pump still runs at ${say.besideUsual('current', steadyCurrentA(pump), pump.usualHereA)}`
    : pump.known
      ? 'the pump is at rest'
      : 'whether the pump runs is not known'
  return {
    title: resting ? 'Tank stands past its overflow level' : 'Tank is full and the pump does not stop',
    what: `The tank has been at or past ${mark} since ${say.time(since)} and ${running}; ${tankState(view.facts, say)}.`,
    causes: resting
      ? ['Water came in by another way: rain, a second source, or a siphon.', 'The level sensor reads too high.']
      : view.facts.evidence.unasked === true
        ? [
            'Somebody runs the pump by hand, or its relay sticks: it started though nothing called for water.',
            'The high probe or float is fouled and does not stop the pump.',
          ]
        : [
            'The control or its relay is stuck on.',
            'The high probe or float is fouled and does not stop the pump.',
            'Somebody runs the pump by hand.',
          ],
    action: resting ? 'Look where the overflow goes and whether the level is true.' : 'Cut the power of the pump.',
    ifIgnored: `The tank overflows: water, the well and the battery (${batteryVoltage(view.facts, say)}) are spent, and the ground can wash out or ice up.`,
    caution: CAUTION_PUMP,
    timeLeft: resting ? null : toCutOff(view.facts.power.cutOff, say),
  }
}

export const overfill = defineAlarm({
  id: 'overfill',
  meaning: 'The pump runs though the tank is at or past its high mark, or the level is past `full`.',
  toldWithin: '3 min',
  needs: '`tank-level`, `tank-probe-high` or `tank-probe-full`; `pump-current`',
  causes: {
    'runs-past-high': 'The pump runs on at or past the high mark.',
    'past-full-running': 'The level is past the overflow level and the pump runs.',
    'past-full': 'The level is past the overflow level though the pump rests.',
  },
  advice: 'Cut the power of the pump.',
  explainedBy: [],
  prepare: (): Watch => ({ look, words }),
})
