/** Sentences and tests that several alarms share. */
import type { Facts, PumpFacts } from '../../model/facts.js'
import type { CutOffFacts } from '../../model/facts-power.js'
import type { SiteSettings } from '../../model/settings.js'
import { MINUTE, SECOND } from '../../model/time.js'
import type { Phrase } from '../phrase.js'

export const CAUTION_PUMP =
  'Pump and battery work can injure: disconnect and lock off the array and the battery first. A pump string is heavy and can run away down the hole; use licensed help for it.'
export const CAUTION_BATTERY =
  'A battery can give thousands of amperes into a dropped tool: disconnect and lock off the array first, cover the terminals, follow local codes.'
export const CAUTION_TANK =
  'Never enter a tank, pit or cistern alone: lack of air can kill. Disinfect and have the water tested after work on it.'
export const CAUTION_ICE = 'Do not thaw a line with an open flame. Disconnect the pump before work on the line.'

/** The current that this pump should draw now, at the voltage now, or the nearest that is known. */
export function usualCurrentA(pump: PumpFacts, site: SiteSettings): number | null {
  return pump.usualHereA ?? pump.usualA?.value ?? site.pump.runningCurrentA
}

/** The latest steady current: the last minute's median, else the latest reading. */
export function steadyCurrentA(pump: PumpFacts): number | null {
  return pump.recentA ?? pump.currentA
}

/**
 * Whether the run that ended last drew its usual current to the end. Such an end shows no fault; and until an ended run
 * has been classed, `lastEnd` may still be the word for the one before it.
 */
export function endedAsUsual(pump: PumpFacts): boolean {
  const usual = pump.usualA?.value ?? null
  if (pump.lastEndA === null || usual === null) return false
  return pump.lastEndA >= 0.85 * usual && pump.lastEndA <= 1.25 * usual
}

/** Whether water was measured to arrive in a window that lies wholly after `since`: then the pump does its work. */
export function waterArrivedSince(facts: Facts, since: number): boolean {
  const { seenRiseL, expectedRiseL, riseWindowS, noRiseSince } = facts.water
  if (noRiseSince !== null || seenRiseL === null || expectedRiseL === null || expectedRiseL <= 0) return false
  // The window may end a minute before the look.
  const windowStart = facts.at - riseWindowS * SECOND - MINUTE
  return riseWindowS > 0 && windowStart >= since && seenRiseL >= 0.5 * expectedRiseL
}

/** "Water left: 320 l, about 2 d at this use.", or null where the water left is not known. */
export function waterLeft(facts: Facts, say: Phrase): string | null {
  const { volumeL, hoursLeft, reckoned } = facts.water
  if (volumeL === null) return null
  const volume = `${reckoned ? 'Water left, reckoned' : 'Water left'}: ${say.quantity('volume', volumeL)}`
  return hoursLeft === null ? `${volume}.` : `${volume}, ${say.hours(hoursLeft)} at this use.`
}

/** How long the tank lasts, as the end of a sentence about what happens if nobody acts. */
export function tankLasts(facts: Facts, say: Phrase): string {
  const { hoursLeft } = facts.water
  return hoursLeft === null ? 'how long the tank lasts is not known' : `the tank lasts ${say.hours(hoursLeft)}`
}

/** The level or the volume of the tank, as far as it is known. */
export function tankState(facts: Facts, say: Phrase): string {
  const { levelM, volumeL } = facts.water
  if (levelM !== null) return `the tank stands at ${say.quantity('level', levelM)}`
  if (volumeL !== null) return `the tank holds ${say.quantity('volume', volumeL)}`
  return 'the level of the tank is not known'
}

/** "To the cut-off at this load, without sun: about 30 h to about 2 d.", or null where it is not known. */
export function toCutOff(cutOff: CutOffFacts | null, say: Phrase): string | null {
  if (cutOff === null) return null
  return `To the cut-off at this load, without sun: ${say.hours(cutOff.lowH)} to ${say.hours(cutOff.highH)}.`
}

/** Water left and the time to the cut-off, for a pump that runs in vain and empties the battery meanwhile. */
export function waterAndCutOff(facts: Facts, say: Phrase): string | null {
  const both = [waterLeft(facts, say), toCutOff(facts.power.cutOff, say)].filter((one) => one !== null)
  return both.length === 0 ? null : both.join(' ')
}

/** "To 0 °C at the coldest line: about 3 h.", or null where no line is on its way there. */
export function toFreezing(facts: Facts, say: Phrase): string | null {
  let soonest: number | null = null
  for (const { hoursToZero } of facts.lines) {
    if (hoursToZero !== null && (soonest === null || hoursToZero < soonest)) soonest = hoursToZero
  }
  return soonest === null ? null : `To freezing at the coldest line: ${say.hours(soonest)}.`
}

/** The battery in words: "13.1 V", or that it is not known. */
export function batteryVoltage(facts: Facts, say: Phrase): string {
  const voltageV = facts.battery.recentV ?? facts.battery.voltageV
  return voltageV === null ? 'battery voltage not known' : `battery ${say.quantity('voltage', voltageV)}`
}
