import type { Fall } from '../../model/facts-loss.js'
import type { Priority } from '../../model/alarm.js'
import { HOUR, SECOND } from '../../model/time.js'
import {
  defineAlarm,
  holding,
  type Prepared,
  QUIET,
  type Telling,
  unknownOf,
  type Verdict,
  type View,
  type Watch,
} from '../definition.js'
import { evidence, evidenceList } from '../phrase.js'
import { CAUTION_TANK } from './common.js'

const TANK = 'tank'
const UNKNOWN = unknownOf(TANK)
const HOURS_IN_DAY = 24
/** A household's longest hose is no leak; one that runs so many times longer may be. */
const LONGER_THAN_HOSE = 1.5
/** The same hour of the day before must lie within the time that nobody was there. */
const DAY_MS = 24 * HOUR
/** Who leaves may wash up after saying so. */
const LEAVING_MS = HOUR

type Shown = { readonly cause: string; readonly fall: Fall }

function look(view: View, { numbers }: Prepared<'leak'>): readonly Verdict[] {
  const { loss } = view.facts
  const shown = shownBy(view, numbers)
  if (shown === null || shown.fall.rateLH < numbers.least) {
    return view.isActive('leak', TANK) && !loss.tight ? UNKNOWN : QUIET
  }
  return [holding(TANK, shown.fall.since, shown.cause, numbersSeen(view, shown.fall), urgency(view))]
}

/** The plainest thing that shows a leak, as far as what is known of people's presence lets it. */
function shownBy(view: View, numbers: Prepared<'leak'>['numbers']): Shown | null {
  const { loss } = view.facts
  const { awaySince, openedAt, at } = view
  const empty = isEmpty(view)
  if (!empty && openedAt !== null && at - openedAt < numbers.after_opening * SECOND) return null
  // Where the reserve was reached first, the same fall has been told.
  const told = view.isActive('tank-low', TANK) && !view.isActive('leak', TANK)
  if (loss.big !== null && !told && loss.big.hours * HOUR >= bigForS(view, numbers) * SECOND) {
    return { cause: 'large', fall: loss.big }
  }
  if (loss.steady !== null) {
    const { inQuietHours, drawless, since } = loss.steady
    // Small uses by day can fall evenly for hours; most of a day without any draw is nobody's day at home.
    const byDay = drawless && loss.lastDrawAt !== null && at - loss.lastDrawAt >= numbers.drawless * SECOND
    // What a coarse sensor saw before people left may be their use.
    const saidEmpty = awaySince !== null && empty
    const whileEmpty = saidEmpty && (drawless || loss.seemsEmpty === true || since >= awaySince)
    if (whileEmpty || inQuietHours || byDay) return { cause: 'steady', fall: loss.steady }
  }
  if (loss.nightly !== null) return { cause: 'nightly', fall: loss.nightly }
  if (awaySince !== null && loss.sameHour !== null && at - awaySince >= DAY_MS)
    return { cause: 'day-by-day', fall: loss.sameHour }
  return byFills(view)
}

/** Nobody is said to be there and no draw since speaks against it; or nobody has drawn for long. */
function isEmpty({ facts, awaySince }: View): boolean {
  const { seemsEmpty, lastDrawAt } = facts.loss
  if (seemsEmpty === true || awaySince === null) return seemsEmpty === true
  return lastDrawAt === null || lastDrawAt <= awaySince + LEAVING_MS
}

function bigForS(view: View, numbers: Prepared<'leak'>['numbers']): number {
  const { big, longestDrawMin } = view.facts.loss
  // People who come back unsaid may begin with the garden.
  const saidEmpty = view.awaySince !== null && isEmpty(view)
  if (saidEmpty || big?.inQuietHours === true) return numbers.big_for
  return Math.max(numbers.big_by_day, LONGER_THAN_HOSE * longestDrawMin * 60)
}

/** With probes only: the tank went from full to the call though nobody was there, or within the quiet hours. */
function byFills({ facts, awaySince }: View): Shown | null {
  const { interval } = facts.loss
  if (interval === null) return null
  const whileEmpty = awaySince !== null && interval.from >= awaySince
  if (!whileEmpty && !interval.inQuietHours) return null
  const hours = (interval.to - interval.from) / HOUR
  const rateLH = interval.litres / hours
  return { cause: 'fill-again', fall: { since: interval.from, hours, rateLH, rateSdLH: 0.05 * rateLH } }
}

function urgency(view: View): Priority | null {
  return isEmpty(view) ? 'high' : null
}

function numbersSeen({ facts }: View, fall: Fall) {
  const { water, loss } = facts
  return evidenceList(
    evidence('Lost in an hour', 'volume', fall.rateLH, loss.quietLH),
    evidence('Lost in a day', 'volume', HOURS_IN_DAY * fall.rateLH),
    evidence('Watched for', 'duration', fall.hours * 3_600),
    evidence('Water left', 'volume', water.volumeL),
    evidence('Usual use in a day', 'volume', loss.usualDayL?.valueL ?? null),
  )
}

const SHOWN_BY: Readonly<Record<string, string>> = {
  large: 'The tank falls fast and without a pause',
  steady: 'The tank falls steadily between the draws while the pump rests',
  nightly: 'Night after night more is lost in the hours of least use than used to be',
  'day-by-day': 'The tank holds less than at the same hour of the day before though nobody is there',
  'fill-again': 'The tank went from full to the call for water though nobody should have drawn',
}

function words({ view, verdict, since, say }: Telling) {
  const { loss, water } = view.facts
  const shown = SHOWN_BY[verdict.cause] ?? 'The tank loses water'
  const rateLH = verdict.evidence[0]?.value ?? null
  const large = verdict.cause === 'large'
  const rate = say.quantity('volume', rateLH)
  const aDay = say.quantity('volume', rateLH === null ? null : HOURS_IN_DAY * rateLH)
  const doubt = doubtLH(view, verdict.cause)
  const about = doubt === null ? '' : ` (± ${say.quantity('volume', HOURS_IN_DAY * doubt)} a day)`
  const usual =
    loss.usualDayL === null
      ? 'usual use is not known yet'
      : `usual use ${say.quantity('volume', loss.usualDayL.valueL)} a day`
  const nobody = verdict.priority === 'high'
  // A day's loss may have begun within the day.
  const atLeast = verdict.cause === 'day-by-day' ? 'at least' : 'about'
  return {
    title: large
      ? 'Tank falls fast: leak or open tap'
      : nobody
        ? 'Leak while nobody is there'
        : 'Steady loss of water: leak',
    what: `${shown}, since ${say.time(since)}: ${atLeast} ${rate} an hour, ${aDay} a day${about}; ${usual}.`,
    causes: causesOf(verdict.cause, nobody),
    action: nobody
      ? 'Have somebody shut the valve at the tank outlet; if the tank still falls, the leak is in the tank or its fittings.'
      : 'Shut the valve at the tank outlet for an hour: if the tank still falls, it leaks at the tank; if not, look at toilets, taps and lines.',
    ifIgnored:
      'The water runs away, the pump and battery work for it day and night, and the ground or the house may be wetted.',
    caution: CAUTION_TANK,
    timeLeft: timeLeft(water.volumeL, rateLH, water.reckoned, say),
  }
}

function causesOf(cause: string, nobody: boolean): readonly string[] {
  const inside = 'A toilet that runs on, or a tap that is not shut.'
  const line = 'A split line or fitting after the tank, or a drain valve that is open.'
  const tank = 'A hole or a weeping fitting of the tank: then the loss grows less as the water falls.'
  const somebody = 'Somebody is there and draws, and nobody has said so here.'
  const back = 'Water that runs back through the pump: the check valve.'
  if (cause === 'large')
    return ['A burst line, an open tap or hose, or a drain valve.', 'Somebody fills something large.']
  if (cause === 'fill-again') return [inside, line, somebody, tank]
  if (nobody) return [line, inside, tank, back]
  return [inside, line, tank, back]
}

function doubtLH({ facts }: View, cause: string): number | null {
  const { loss } = facts
  if (cause === 'large') return loss.big?.rateSdLH ?? null
  if (cause === 'steady') return loss.steady?.rateSdLH ?? null
  if (cause === 'nightly') return loss.nightly?.rateSdLH ?? null
  return cause === 'day-by-day' ? (loss.sameHour?.rateSdLH ?? null) : null
}

/**
 * At this rate, and if it flows out of a hole near the floor: by Torricelli's law the flow goes with the root of the
 * head, and a tank with upright walls takes twice as long as at its first rate.
 */
function timeLeft(
  volumeL: number | null,
  rateLH: number | null,
  reckoned: boolean,
  say: Telling['say'],
): string | null {
  if (volumeL === null || rateLH === null || rateLH <= 0) return null
  const hours = volumeL / rateLH
  const from = reckoned ? ' (water left is reckoned)' : ''
  return `Empty in ${say.hours(hours)} at this rate without the pump; up to twice that if the hole is low${from}.`
}

export const leak = defineAlarm({
  id: 'leak',
  meaning: 'The level falls steadily while the pump rests and nobody draws.',
  toldWithin:
    '6 h of a 4 l/h leak in an empty place with a quiet level sensor, 26 h with one that follows the air; the night, or some nights, in an occupied house; 30 min for more than 200 l/h with nobody there or in the quiet hours',
  needs: '`tank-level`; with probes only what the time from full to the next call can show',
  causes: {
    large: 'More than 200 l/h without a pause.',
    steady: 'An even fall between draws: with nobody there, in the quiet hours, or for hours without any draw.',
    nightly: 'More lost in the quiet hours than in the nights before, one plain night or two to five nights on end.',
    'day-by-day': 'Less than at the same hour of the day before, with nobody there.',
    'fill-again': 'With probes only: from full to the call with nobody there, or within the quiet hours.',
  },
  advice:
    'Shut the valve at the tank outlet for an hour: if the tank still falls, it leaks at the tank, else in the house or its lines.',
  explainedBy: [
    { by: 'overfill' },
    { by: 'freezing' },
    // A doubted probe or level shows losses that are none.
    { by: 'sensor-suspect', causes: ['probes-contradict', 'stuck', 'failed-values', 'too-fast', 'contact-chatter'] },
  ],
  quietWhenWinterized: true,
  quietWhenLearning: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
