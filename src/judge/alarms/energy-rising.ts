import type { TrendFacts } from '../../model/facts-trend.js'
import { defineAlarm, holding, type Prepared, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { CAUTION_PUMP, waterLeft } from './common.js'
import { CURRENT_MOVED, numbersSeen, percent, restsOn } from './yield-falling.js'

const PUMP = 'pump'
const END_SHARE = 0.5
/** With a yield that is lower by this much the story is the yield's. */
const YIELD_LOWER = -0.04
/** The two charts seldom pass their limits in the same fill: the yield's is waited for, so that it tells the story. */
const WAIT_FILLS = 8

function look(view: View, { numbers }: Prepared<'energy-rising'>) {
  const { trend } = view.facts
  const { energy } = trend
  if (energy.direction !== 'risen' || energy.share === null) return QUIET
  const least = numbers.least * (view.isActive('energy-rising', PUMP) ? END_SHARE : 1)
  if (energy.share < least) return QUIET
  const cause = causeOf(trend)
  const waits = cause === 'less-water' && trend.yield.direction !== 'fallen' && energy.points < WAIT_FILLS
  return waits ? QUIET : [holding(PUMP, energy.since, cause, numbersSeen(trend))]
}

function causeOf(trend: TrendFacts): string {
  const lower = trend.yield.share !== null && trend.yield.share <= YIELD_LOWER
  if (lower) return 'less-water'
  return trend.currentShare !== null && trend.currentShare >= CURRENT_MOVED ? 'more-current' : 'not-clear'
}

const CAUSES: Readonly<Record<string, readonly string[]>> = {
  'less-water': [
    'The pump brings less for the same work: worn, clogged, or water is lost after it.',
    'More is drawn during the fills than before, if the rate of the pump is not seen well.',
  ],
  'more-current': [
    'The water in the well stands lower: the pump lifts further and brings as much.',
    'It pushes against more: a filter, a valve that is not fully open, scale.',
    'It rubs: sand or a worn bearing.',
  ],
  'not-clear': ['The current sensor or the voltage sensor has wandered.', 'The pump begins to wear.'],
}

function words({ view, verdict, since, say }: Telling) {
  const { trend } = view.facts
  const { energy } = trend
  const now = say.besideUsual('energy-per-volume', energy.now, energy.base?.value ?? null)
  const brings =
    verdict.cause === 'less-water' ? `It brings ${percent(trend.yield.share)} less` : 'It brings as much as before'
  return {
    title: `Water takes ${percent(energy.share)} more energy than it did`,
    what: `Since ${say.time(since)} the pump has taken ${now}: ${percent(energy.share)} more. ${brings}. ${restsOn(trend, energy)}`,
    causes: CAUSES[verdict.cause] ?? [],
    action:
      verdict.cause === 'more-current'
        ? 'Measure the water level in the well and look at filters and valves after the pump. Bring a dip line and a filter. If something was changed on purpose, say so in the service log with a new baseline.'
        : 'Look at filter, line and pump at the next visit. If something was changed on purpose, say so in the service log with a new baseline.',
    ifIgnored: 'Each fill takes more from the battery; in dull weeks that is what runs short first.',
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

export const energyRising = defineAlarm({
  id: 'energy-rising',
  meaning:
    "Wh per litre, corrected for voltage, have risen against this site's own baseline: CUSUM and EWMA over complete fills agree.",
  toldWithin: '5 complete fills of a step of 10 %; with probes only 20 to 30',
  needs: '`pump-current`, `battery-voltage`; `tank-level`, a meter, or the low and high probes; 8 fills (probes: 12)',
  causes: {
    'less-water': 'The yield has fallen as well.',
    'more-current':
      'The current is higher and the yield as before: the water in the well stands lower, or it pushes against more.',
    'not-clear': 'Neither shows clearly.',
  },
  advice: 'Measure the water level in the well; look at filters and valves after the pump.',
  explainedBy: [
    { by: 'yield-falling' },
    { by: 'leak' },
    { by: 'no-rise' },
    { by: 'fill-long' },
    { by: 'tank-low' },
    { by: 'dry-well' },
    { by: 'pump-stalled' },
    { by: 'battery-low' },
    { by: 'sensor-suspect' },
  ],
  quietWhenLearning: true,
  quietWhenWinterized: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
