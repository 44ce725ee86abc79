import type { BatteryFacts } from '../../model/facts.js'
import { HOUR, SECOND } from '../../model/time.js'
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
import { CAUTION_BATTERY, toCutOff, waterLeft } from './common.js'

const BATTERY = 'battery'
const UNKNOWN = unknownOf(BATTERY)
/** Once told, a projected time must be this many times longer than the limit to end it. */
const LONGER_TO_END = 2
/** A run that lost its power at a voltage within this factor of the loaded limit lost it to the battery. */
const NEAR_LIMIT = 1.02

function look(view: View, prepared: Prepared<'battery-low'>) {
  const { battery } = view.facts
  if (battery.recentV === null && battery.lowSince === null) return UNKNOWN
  const active = view.isActive('battery-low', BATTERY)
  const limitV = battery.loaded ? battery.loadedLowV : battery.restLowV
  if (battery.lowSince !== null) {
    return [
      holding(
        BATTERY,
        battery.lowSince,
        battery.loaded ? 'low-under-load' : 'low-at-rest',
        numbersSeen(battery, limitV),
      ),
    ]
  }
  const cutOffAt = lostPowerAt(view, prepared.numbers.stop_counts_for)
  if (cutOffAt !== null) return [holding(BATTERY, cutOffAt, 'cut-off', numbersSeen(battery, limitV))]
  const shortestS = prepared.numbers.time_to_cut_off * (active ? LONGER_TO_END : 1)
  if (battery.hoursToCutOff !== null && battery.hoursToCutOff * (HOUR / SECOND) < shortestS) {
    return [holding(BATTERY, null, 'soon-cut-off', numbersSeen(battery, limitV))]
  }
  if (!active || limitV === null || battery.recentV === null) return QUIET
  if (battery.recentV >= limitV * (1 + prepared.numbers.deadband)) return QUIET
  return [holding(BATTERY, null, 'low-at-rest', numbersSeen(battery, limitV))]
}

/** When the pump lost its power at a voltage that says the battery's protection opened; null: it did not, lately. */
function lostPowerAt({ facts, at }: View, countsForS: number): number | null {
  const { pump, battery } = facts
  if (pump.lastEnd !== 'power-lost' || pump.lastEndAt === null || pump.running) return null
  if (at - pump.lastEndAt > countsForS * SECOND) return null
  if (battery.lowest30MinV === null || battery.loadedLowV === null) return null
  return battery.lowest30MinV <= battery.loadedLowV * NEAR_LIMIT ? pump.lastEndAt : null
}

function numbersSeen(battery: BatteryFacts, limitV: number | null) {
  return evidenceList(
    evidence('Battery voltage', 'voltage', battery.recentV ?? battery.voltageV),
    evidence(battery.loaded ? 'Lowest allowed under load' : 'Lowest allowed at rest', 'voltage', limitV),
    evidence('Lowest in 30 min', 'voltage', battery.lowest30MinV),
    evidence('Time to cut-off', 'duration', battery.hoursToCutOff === null ? null : battery.hoursToCutOff * 3_600),
    evidence('Battery temperature', 'temperature', battery.temperatureC),
  )
}

const TITLES: Readonly<Record<string, string>> = {
  'low-under-load': 'Battery is low under load',
  'low-at-rest': 'Battery is low',
  'soon-cut-off': 'Battery will soon cut off',
  'cut-off': 'Battery cut-off stopped the pump',
}

function words({ view, verdict, since, say }: Telling) {
  const { battery } = view.facts
  const volts = say.quantity('voltage', battery.recentV ?? battery.voltageV)
  const limit = say.quantity('voltage', battery.loaded ? battery.loadedLowV : battery.restLowV)
  const state = battery.loaded ? 'under load' : 'at rest'
  const what: Readonly<Record<string, string>> = {
    'cut-off': `The pump lost its power at ${say.time(since)}; the voltage had fallen to ${say.quantity('voltage', battery.lowest30MinV)} and is ${volts} now (lowest allowed ${state}: ${limit}).`,
    'soon-cut-off': `At its present rate the battery reaches its cut-off of ${say.quantity('voltage', battery.cutOffV)} in ${say.hours(battery.hoursToCutOff)} at most; it stands at ${volts} (lowest allowed ${state}: ${limit}).`,
  }
  return {
    title: TITLES[verdict.cause] ?? 'Battery is low',
    what:
      what[verdict.cause] ??
      `The battery has been below what it should have ${state} since ${say.time(since)}: ${volts} (lowest allowed ${limit}).`,
    causes: [
      'Too little sun for what was used: dull days, snow or shade on the panels.',
      'Something draws more than usual.',
      'The battery is not charged: a fuse, a bad joint, or cold; or it has aged.',
    ],
    action: 'Switch off what is not needed, keep the pump off until there is sun, and look at panels and fuses.',
    ifIgnored:
      'The battery cuts off: no water is pumped and this site may fall silent. A battery left empty is harmed, and an empty lead-acid one can freeze.',
    caution: CAUTION_BATTERY,
    timeLeft: timeLeft(view, say),
  }
}

function timeLeft({ facts }: View, say: Telling['say']): string | null {
  const water = waterLeft(facts, say)
  const cutOff = toCutOff(facts.power.cutOff, say)
  if (cutOff === null) return water
  return water === null ? cutOff : `${cutOff} ${water}`
}

export const batteryLow = defineAlarm({
  id: 'battery-low',
  meaning:
    'The resting or loaded voltage is below what this chemistry allows, or the projected time to cut-off is too short, or the pump lost its power at such a voltage.',
  toldWithin: '2 min',
  needs: '`battery-voltage` or `pump-voltage`, the battery in the configuration',
  causes: {
    'low-under-load': 'Too low while the pump runs.',
    'low-at-rest': 'Too low at rest.',
    'soon-cut-off': 'It falls so fast that the cut-off is near.',
    'cut-off': 'The pump lost its power at a low voltage.',
  },
  advice: 'Switch off what is not needed, spare the pump, look at panels and fuses.',
  explainedBy: [{ by: 'pump-stalled' }, { by: 'no-rise' }, { by: 'overfill' }],
  quietInMaintenance: false,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
