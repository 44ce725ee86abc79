import { defineAlarm, holding, QUIET, type Telling, unknownOf, type View, type Watch } from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { CAUTION_BATTERY } from './common.js'

const BATTERY = 'battery'
const UNKNOWN = unknownOf(BATTERY)

function look(view: View) {
  const { power, battery } = view.facts
  if (power.coldChargeSince === null) {
    const known = power.chargeA !== null && battery.temperatureC !== null
    return known || !view.isActive('battery-cold-charge', BATTERY) ? QUIET : UNKNOWN
  }
  return [
    holding(
      BATTERY,
      power.coldChargeSince,
      power.chargeMeasured ? 'charged' : 'charged-by-panel',
      evidenceList(
        evidence('Battery temperature', 'temperature', battery.temperatureC),
        evidence(power.chargeMeasured ? 'Charging current' : 'Charging current, reckoned', 'current', power.chargeA),
        evidence('Battery voltage', 'voltage', battery.recentV),
      ),
    ),
  ]
}

function words({ view, verdict, since, say }: Telling) {
  const { power, battery } = view.facts
  const reckoned = verdict.cause === 'charged-by-panel' ? ', reckoned from the panel' : ''
  return {
    title: 'Lithium battery is charged below freezing',
    what: `Since ${say.time(since)} the battery has been charged with ${say.quantity('current', power.chargeA)}${reckoned} at ${say.quantity('temperature', battery.temperatureC)}; its protection should refuse charge below ${say.quantity('temperature', 0)}.`,
    causes: [
      'A battery without protection against charge in the cold, or one whose protection has failed or is set too low.',
      'The thermometer sits colder than the cells: compare it with one at the cells before replacing anything.',
    ],
    action:
      'Stop the charge: open the array’s disconnect, or set the charger’s low-temperature limit. Warm the battery box above 5 °C (41 °F), then let it charge again.',
    ifIgnored:
      'Each such charge plates lithium inside the cells: capacity is lost for good, and a cell can short later.',
    caution: CAUTION_BATTERY,
    timeLeft: null,
  }
}

export const batteryColdCharge = defineAlarm({
  id: 'battery-cold-charge',
  meaning:
    'A lithium battery below 0 °C, by more than the half degree that a thermometer is good for, is charged with more than a small current (0.02 of its capacity an hour; where only the panel is measured, 0.06 beyond what the pump takes).',
  toldWithin: '2 min',
  needs: 'chemistry `lifepo4`, `battery-temperature`, `battery-current` (or `panel-current`)',
  causes: {
    charged: 'The current into the battery is measured.',
    'charged-by-panel': 'It follows from the current of the panel.',
  },
  advice: 'Stop the charge and warm the battery.',
  quietInMaintenance: false,
  prepare: (): Watch => ({ look, words }),
})
