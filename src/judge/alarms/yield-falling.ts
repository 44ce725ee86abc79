import type { DriftFacts, TrendFacts } from '../../model/facts-trend.js'
import { defineAlarm, holding, type Prepared, QUIET, type Telling, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { CAUTION_PUMP, waterLeft } from './common.js'

const PUMP = 'pump'
/** Once told, it ends when no more than this part of the limit is left. */
const END_SHARE = 0.5
/** A current or a voltage that differs by less is as before: gain errors of cheap sensors wander with temperature. */
export const CURRENT_MOVED = 0.025
const VOLTAGE_LOW = -0.05

function look(view: View, { numbers }: Prepared<'yield-falling'>) {
  const { trend } = view.facts
  const { yield: drift } = trend
  if (drift.direction !== 'fallen' || drift.share === null) return QUIET
  const least = numbers.least * (view.isActive('yield-falling', PUMP) ? END_SHARE : 1)
  if (-drift.share < least) return QUIET
  return [holding(PUMP, drift.since, causeOf(trend), numbersSeen(trend))]
}

function causeOf({ voltageShare, currentShare }: TrendFacts): string {
  if (voltageShare !== null && voltageShare <= VOLTAGE_LOW) return 'low-voltage'
  if (currentShare === null) return 'same-current'
  if (currentShare <= -CURRENT_MOVED) return 'less-current'
  return currentShare >= CURRENT_MOVED ? 'more-current' : 'same-current'
}

/** What both alarms of the trend rest on. */
export function numbersSeen(trend: TrendFacts) {
  const { yield: water, energy, referenceV, voltageShare, currentShare } = trend
  const current = trend.figures.find((one) => one.id === 'running-current')?.usual.value ?? null
  return evidenceList(
    evidence('Yield, at the usual voltage', 'flow', water.now, water.base?.value ?? null),
    evidence('Energy for each volume', 'energy-per-volume', energy.now, energy.base?.value ?? null),
    evidence('Current against before', 'ratio', currentShare === null ? null : 1 + currentShare, 1),
    evidence('Usual current', 'current', current),
    evidence(
      'Voltage in these fills',
      'voltage',
      referenceV === null || voltageShare === null ? null : referenceV * (1 + voltageShare),
      referenceV,
    ),
  )
}

/** "some 12 %", of a share. */
export function percent(share: number | null): string {
  return share === null ? 'an unknown part' : `some ${Math.round(Math.abs(share) * 100)} %`
}

/** On how much it rests, in words. */
export function restsOn(trend: TrendFacts, { points, base }: DriftFacts): string {
  const fills = base?.fills ?? 0
  if (trend.sight === 'quiet-fills') {
    return `With probes only, the quickest of every six fills tells: ${points} of them since, against the first ${fills} fills.`
  }
  return `It is the middle of ${points} fills since, against ${fills} fills before.`
}

const CAUSES: Readonly<Record<string, readonly string[]>> = {
  'less-current': [
    'The pump is worn, or its inlet or screen is clogged: it works less and moves less.',
    'A hole in the drop pipe near the pump, which takes water and load away.',
  ],
  'same-current': [
    'Water is lost after the pump: a hole in the drop pipe, a leaking joint or line, an open drain.',
    'The pump slips inside: worn, though it still works as hard.',
  ],
  'more-current': [
    'The pump pushes against more: a filter, a valve that is not fully open, scale in the line.',
    'The water in the well stands lower.',
    'The pump rubs or is worn.',
  ],
  'low-voltage': [
    'The battery is low or a joint is bad: at so low a voltage the correction for it is unsure.',
    'The pump is worn or clogged, or water is lost after it.',
  ],
}

const ACTIONS: Readonly<Record<string, string>> = {
  'less-current':
    'Plan to look at the pump: first its filter or screen, then wear. Bring filters, and the pump’s papers for its wear parts.',
  'same-current':
    'Walk the line while the pump runs and look for water; listen at the well head. Nothing found: have the pump looked at. Bring pipe and fittings for a repair.',
  'more-current':
    'Look at filters and valves after the pump, then measure the water level in the well. Bring a filter and a dip line.',
  'low-voltage': 'See to the battery and its joints first; then compare again. Bring a meter.',
}

function words({ view, verdict, since, say }: Telling) {
  const { trend } = view.facts
  const { yield: drift } = trend
  const now = say.besideUsual('flow', drift.now, drift.base?.value ?? null)
  const drawn = ['People draw more during the fills than they used to: with probes only this looks the same.']
  return {
    title: `The pump brings ${percent(drift.share)} less than it did`,
    what: `Since ${say.time(since)} the pump has brought ${now}, corrected for the voltage: ${percent(drift.share)} less; its current is ${currentWords(trend)}. ${restsOn(trend, drift)}`,
    causes: [...(CAUSES[verdict.cause] ?? []), ...(trend.sight === 'quiet-fills' ? drawn : [])],
    action: `${ACTIONS[verdict.cause] ?? ''} If something was changed on purpose, say so in the service log with a new baseline.`,
    ifIgnored: 'Fills grow longer and take more from the battery; wear and leaks go on growing until water stays away.',
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

function currentWords({ currentShare }: TrendFacts): string {
  if (currentShare === null) return 'not known'
  if (Math.abs(currentShare) < CURRENT_MOVED) return 'as before'
  return `${percent(currentShare)} ${currentShare < 0 ? 'lower' : 'higher'} than before`
}

export const yieldFalling = defineAlarm({
  id: 'yield-falling',
  meaning:
    "Litres a minute, corrected for voltage, have fallen against this site's own baseline: CUSUM and EWMA over complete fills agree.",
  toldWithin:
    '5 complete fills of a step of 10 %; with probes only 20 to 30, since people who draw during a fill hide its rate',
  needs: '`pump-current`, `battery-voltage`; `tank-level`, a meter, or the low and high probes; 8 fills (probes: 12)',
  causes: {
    'less-current': 'The current is lower too: worn or clogged.',
    'same-current': 'The current is as before: water is lost after the pump, or it slips inside.',
    'more-current': 'The current is higher: it pushes against more.',
    'low-voltage': 'The voltage is clearly lower than in the baseline: the battery first.',
  },
  advice: 'Look at filter and screen, at the line for water, then at the pump.',
  explainedBy: [
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
