/** What is to be done when a place is closed for the winter, and when it is opened again. Local practice stands above it. */

export const CLOSING_STEPS: readonly string[] = [
  'Choose a dry day above freezing, before the first hard frost.',
  'Switch off and lock off the well pump, then its control, so that nothing refills what is drained.',
  'Drain the house from its highest tap to its lowest, hot and cold; leave the taps open.',
  'Drain the pressure pump, its accumulator, filters and the water heater as their makers say; the heater off first.',
  'Open the drain of each outdoor line; blow out what does not run empty. Pumps and filters that cannot drain come inside.',
  'Decide on the tank: emptied below its outlet, or left full with the outlet drained, as its maker allows.',
  'Traps and bowls: antifreeze made for drinking-water systems, never that for engines.',
  'Battery: charged full, joints dry and tight. Lithium is left in the state its maker names, and not charged below 0 °C.',
  'Leave the boards and their thermometers on; then say here that the place is drained for the winter.',
]

export const OPENING_STEPS: readonly string[] = [
  'Wait until nights stay above freezing and the ground over buried lines has thawed.',
  'Look before water: split pipes, animals, loose wires. Shut the drains and open taps one after the other.',
  'Charge and look over the battery before the pump runs.',
  'Say here that the place is in use again; then let the pump fill, and stay to watch the first fill.',
  'Let the water run until it is clear, filters out; then put in new filters.',
  'Look for drips at each joint over the first hours and again the next day, when pipes have come to pressure.',
  'Disinfect and have the water tested as your health authority says, before it is drunk.',
]

export const SEASON_CAUTIONS: readonly string[] = [
  'Lock off the array and the battery before work on the pump. Never enter a tank or pit alone: lack of air can kill.',
  'These lists know nothing of your fittings: local codes, makers and licensed trades stand above them.',
]
