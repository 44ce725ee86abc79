import type { ArrayFacts } from '../../model/facts-power.js'
import { HOUR, MINUTE, type Ms, SECOND } from '../../model/time.js'
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
import { evidence, evidenceList, type Phrase } from '../phrase.js'
import { batteryVoltage, CAUTION_BATTERY, toCutOff } from './common.js'

const ARRAY = 'array'
const UNKNOWN = unknownOf(ARRAY)
/** A day must lie so far below the darkest day that was seen here, and below what thick cloud brings. */
const BELOW_DARKEST = 0.5
/** While no day is known here, heavy cloud may bring as little as this. */
const HEAVY_CLOUD = 0.05
/** Panel voltage over its working voltage: below, hardly any light or no wire; above, light that nothing takes. */
const NO_VOLTS = 0.3
const OPEN_VOLTS = 1.06

function look(view: View, { numbers }: Prepared<'array-dark'>) {
  const { array, lastFullAt } = view.facts.power
  if (array === null) return QUIET
  if (view.isActive('array-dark', ARRAY)) {
    const back = becameFull(view, lastFullAt) || (array.recentRatio !== null && array.recentRatio >= numbers.recovered)
    // Until the panels have been seen to give again, a night or a morning says nothing.
    return back ? QUIET : UNKNOWN
  }
  if (array.ratio === null || array.since === null || array.clearH * (HOUR / SECOND) < numbers.sun) return QUIET
  const darkest = array.lowestRatio === null ? HEAVY_CLOUD : BELOW_DARKEST * array.lowestRatio
  const cloud = BELOW_DARKEST * (array.cloudRatio ?? 1)
  const limit = Math.min(array.late ? numbers.little_ratio : numbers.dark_ratio, darkest, cloud)
  if (array.ratio >= limit) return QUIET
  return [holding(ARRAY, array.since, causeOf(array), numbersSeen(view, array))]
}

/** Full within the last half hour, which a dark array cannot have done. */
function becameFull({ at }: View, lastFullAt: Ms | null): boolean {
  return lastFullAt !== null && at - lastFullAt < 30 * MINUTE
}

function causeOf(array: ArrayFacts): 'no-voltage' | 'not-taken' | 'little-light' {
  if (array.voltsShare === null) return 'little-light'
  if (array.voltsShare < NO_VOLTS) return 'no-voltage'
  return array.voltsShare > OPEN_VOLTS ? 'not-taken' : 'little-light'
}

function numbersSeen({ facts }: View, array: ArrayFacts) {
  return evidenceList(
    evidence("Harvest of a clear sky's", 'ratio', array.ratio, array.usualRatio),
    evidence('Hours that count', 'duration', array.hours * (HOUR / SECOND)),
    evidence('Panel voltage over its working voltage', 'ratio', array.voltsShare, array.voltsShare === null ? null : 1),
    evidence('Battery voltage', 'voltage', facts.battery.recentV),
    evidence('Battery current meanwhile', 'current', array.batteryA),
    evidence('Coldest air in two days', 'temperature', array.coldestC),
  )
}

function words({ view, verdict, since, say }: Telling) {
  const { array, cutOff } = view.facts.power
  const share =
    array?.ratio == null
      ? ''
      : `, ${say.besideUsual('ratio', array.ratio, array.usualRatio)} of what a clear sky would bring`
  return {
    title: 'Panels bring next to nothing by day',
    what: `Since ${say.time(since)} the array has brought next to nothing in hours with the sun up and a battery that could take it${share}. ${volts(verdict.cause)}The battery is not full (${batteryVoltage(view.facts, say)}).`,
    causes: causesOf(verdict.cause, array, say),
    action:
      verdict.cause === 'little-light'
        ? 'Look at the panels, best with a camera or a neighbour: brush off snow from the ground with a soft broom, look for what shades them. If they are clear, measure their voltage at the charger.'
        : 'Look at fuse, disconnect and plugs between panels and charger, then at the charger’s own display. Bring fuses and a meter.',
    ifIgnored: 'The battery runs down to its cut-off: no water is pumped and this site may fall silent.',
    caution: `${CAUTION_BATTERY} A panel in light stays live: a direct-current arc does not go out by itself. Do not climb on an icy roof.`,
    timeLeft: toCutOff(cutOff, say),
  }
}

function volts(cause: string): string {
  if (cause === 'no-voltage') return 'The panel shows hardly any voltage. '
  if (cause === 'not-taken')
    return 'The panel stands at the voltage of one from which nothing is taken: there is light on it. '
  return ''
}

function causesOf(cause: string, array: ArrayFacts | null, say: Phrase): string[] {
  const coldest = array?.coldestC ?? null
  const frost = coldest !== null && coldest <= 1.5
  const seen =
    coldest === null
      ? 'air temperature is not known'
      : `the air was never below ${say.quantity('temperature', coldest)} in two days`
  const snow = frost
    ? 'Snow or ice on the panels.'
    : `Snow on the panels (${coldest === null ? seen : `unlikely: ${seen}`}).`
  const dirt = 'Something that covers or shades all of them.'
  const fuse = 'A fuse, a disconnect, a plug or a wire between panels and charger.'
  const charger = 'The charger has stopped, or a fuse between it and the battery has gone.'
  if (cause === 'no-voltage')
    return frost ? [fuse, `${snow} Deep snow leaves hardly any voltage.`, dirt] : [fuse, dirt, snow]
  if (cause === 'not-taken') return [charger, 'A battery protection that refuses charge for another reason than cold.']
  return frost ? [snow, dirt, fuse] : [dirt, fuse, snow]
}

export const arrayDark = defineAlarm({
  id: 'array-dark',
  meaning:
    'The array has brought next to nothing in hours in which the sun was up in a direction from which it reaches the array, the battery was not full, and no cold protection refused the charge.',
  toldWithin:
    'that day: when hours worth `sun` have brought nothing; where they brought a little, 2 h after solar noon',
  needs:
    '`panel-current`, `battery-voltage`, latitude, longitude and `array: rated` in the configuration; `panel-voltage`, `battery-current` and `air-temperature` tell its causes apart. Not judged without a signal of the panel',
  causes: {
    'no-voltage': 'The panel has hardly any voltage by day: a fuse, a wire, or deep snow.',
    'little-light': 'It has voltage and gives little: snow, something over it, shade.',
    'not-taken': 'It stands at its open voltage and the battery is not full: charger or fuse behind it.',
  },
  advice: 'Panels, fuse, charger: in this order where there was frost, fuse first where there was none.',
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
