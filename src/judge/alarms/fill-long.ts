import { SECOND } from '../../model/time.js'
import type { Diagnosis } from '../diagnosis/classify.js'
import { causesInWords, diagnosisOf } from '../diagnosis/causes.js'
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
import { batteryVoltage, CAUTION_PUMP, steadyCurrentA, tankState, waterAndCutOff, toFreezing } from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)

function look(view: View, { site, numbers }: Prepared<'fill-long'>) {
  const { facts, modes } = view
  const { pump, water } = facts
  if (!pump.known) return UNKNOWN
  if (!pump.running || pump.since === null) return QUIET
  if (modes.winterized) return [holding(PUMP, pump.since, 'runs-while-winterized', numbersSeen(view), 'critical')]
  if (pump.ranS > site.pump.longestFillS) {
    const since = pump.since + site.pump.longestFillS * SECOND
    return [holding(PUMP, since, named(view) ?? 'past-longest', numbersSeen(view))]
  }
  if (water.expectedFillS === null || facts.learning) return QUIET
  // A tank that fills slowly because people draw from it is no fault: where the pump's own rate is seen, it decides.
  const slow = water.rateShare !== null && water.rateShare < numbers.slow_rate
  if (water.rateShare !== null && !slow) return QUIET
  const limitS = (slow ? numbers.slow_factor : numbers.factor) * water.expectedFillS + numbers.extra
  // Without water arriving it is another alarm's story, told sooner.
  if (pump.ranS <= limitS || water.noRiseSince !== null) return QUIET
  return [holding(PUMP, pump.since + limitS * SECOND, named(view) ?? 'past-usual', numbersSeen(view))]
}

function slowFill(view: View): Diagnosis {
  return diagnosisOf(view, ['drawn', 'leak-after', 'worn', 'clogged', 'holed', 'weak-battery', 'control-on'])
}

/** The cause or the group that stands out; while learning none does. */
function named(view: View): string | null {
  if (view.facts.learning) return null
  const { row, group } = slowFill(view)
  if (group === 'less-water') return 'gives-less'
  return row === 'drawn' || row === 'weak-battery' ? row : null
}

function numbersSeen({ facts }: View) {
  const { pump, water } = facts
  return evidenceList(
    evidence('Running for', 'duration', pump.ranS, water.expectedFillS),
    evidence('Pump current', 'current', steadyCurrentA(pump), pump.usualHereA),
    evidence('Tank level', 'level', water.levelM),
    evidence('Water arrived', 'volume', water.seenRiseL, water.expectedRiseL),
  )
}

function words(telling: Telling, { site }: Prepared<'fill-long'>) {
  return telling.verdict.cause === 'runs-while-winterized' ? winterWords(telling) : longWords(telling, site)
}

function longWords({ view, say }: Telling, site: Prepared<'fill-long'>['site']) {
  const { pump, water } = view.facts
  const usual =
    water.expectedFillS === null ? 'its usual is not known yet' : `usually ${say.span(water.expectedFillS * SECOND)}`
  const longest = pump.ranS > site.pump.longestFillS
  const arrives = water.arriving === true ? 'Water still arrives' : 'Whether water arrives is not certain'
  return {
    title: longest ? 'Fill has passed its longest allowed time' : 'Fill takes far longer than usual',
    what: `The pump has run since ${say.time(pump.since)}, ${say.span(pump.ranS * SECOND)} (${usual}). ${arrives}; ${tankState(view.facts, say)}.`,
    causes: [...unasked(view, say), ...causesInWords(slowFill(view))],
    action:
      'See whether the tank rises and who draws water. If nobody does, look for a leak; if the tank is full, cut the pump power.',
    ifIgnored: `The battery is drawn down (${batteryVoltage(view.facts, say)}) and the well may be pumped dry.`,
    caution: CAUTION_PUMP,
    timeLeft: waterAndCutOff(view.facts, say),
  }
}

/** A run that nothing called for: worth a word, not an alarm of its own, since somebody may test the pump. */
function unasked({ facts }: View, say: Telling['say']): readonly string[] {
  const { evidence: seen } = facts
  if (seen.unasked !== true) return []
  const where = seen.startLevelM === null ? '' : `, at ${say.quantity('level', seen.startLevelM)}`
  return [`It started though nothing called for water${where}: a hand switch, or a relay that sticks.`]
}

function winterWords({ view, say }: Telling) {
  const { pump } = view.facts
  return {
    title: 'Pump runs though the place is winterized',
    what: `The pump has run since ${say.time(pump.since)}, ${say.span(pump.ranS * SECOND)} long, at ${say.besideUsual('current', steadyCurrentA(pump), pump.usualHereA)}, though the place is set as winterized.`,
    causes: [
      'Somebody is there and opened the water again without saying so here.',
      'The power of the pump was left on and a float or probe has called for water.',
      'A relay that sticks.',
    ],
    action: 'Switch the pump off unless somebody is there and wants water; then end the winterized mode.',
    ifIgnored: 'Drained pipes fill again and can freeze and burst; the pump may run dry.',
    caution: CAUTION_PUMP,
    timeLeft: toFreezing(view.facts, say),
  }
}

export const fillLong = defineAlarm({
  id: 'fill-long',
  meaning:
    'A fill has run far past what this pump needs for this band while water still arrives, or past `longest_fill`; or the pump runs though the place is winterized (critical).',
  toldWithin: 'when passed',
  needs: '`pump-current`; a learned fill time for the first part',
  causes: {
    'past-usual': 'More than `factor` times the expected time, and `extra` on top; why cannot be told.',
    'past-longest': 'More than `longest_fill` of the configuration; holds while learning too; why cannot be told.',
    'gives-less': 'Too long because the pump brings less: worn, clogged or holed, which look the same from outside.',
    drawn: 'Too long because water is drawn as it comes: the pump brings what it should.',
    'weak-battery': 'Too long because a low battery turns the pump slowly.',
    'runs-while-winterized': 'The pump runs in a place that was drained for winter.',
  },
  advice: 'See whether the tank rises and who draws water.',
  explainedBy: [
    { by: 'no-rise' },
    { by: 'dry-well' },
    { by: 'pump-stalled' },
    { by: 'overfill' },
    { by: 'tank-low' },
    { by: 'leak' },
    { by: 'sensor-suspect', causes: ['control-chatter'] },
  ],
  prepare: (prepared): Watch => ({
    look: (view) => look(view, prepared),
    words: (telling) => words(telling, prepared),
  }),
})
