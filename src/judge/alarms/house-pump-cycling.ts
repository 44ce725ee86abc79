import type { AlarmWords } from '../../model/alarm.js'
import type { HouseFacts } from '../../model/facts-house.js'
import { type Ms, SECOND } from '../../model/time.js'
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
import { evidence, evidenceList, type Phrase } from '../phrase.js'

const PUMP = 'house-pump'
const UNKNOWN = unknownOf(PUMP)
/** It ends when the shortest of the last eight runs is longer than the limit by this factor. */
const WELL_AGAIN = 1.2
/** While nothing is learned, pauses from start to start below this many short runs are short themselves. */
const SHORT_PAUSE = 3
/** More starts than this factor of the busiest usual hour. */
const BUSIER = 1.2
/** A current below this share of the usual is a pump without water or without pressure. */
const LIGHT = 0.75
/** While a pressure is seen that serves, a pump may run for long: a hose, a trough, a pool. */
const PRESSURE_SERVES = 5
const CAUTION =
  'Switch the pump off and let the pressure out before any work on pump, vessel or pipes; an accumulator holds pressure without power.'

type Numbers = Prepared<'house-pump-cycling'>['numbers']

function look(view: View, { numbers }: Prepared<'house-pump-cycling'>): readonly Verdict[] {
  const { house } = view.facts
  const active = view.isActive('house-pump-cycling', PUMP)
  if (!house.known) return active ? UNKNOWN : QUIET
  const found = runsOn(view, numbers) ?? startsAlike(view, numbers) ?? startsOften(house, numbers, active)
  return found === null ? QUIET : [found]
}

/** It never stops, or the pressure has gone. */
function runsOn(view: View, numbers: Numbers): Verdict | null {
  const { house } = view.facts
  const since = house.runningSince
  const ranS = since === null ? 0 : (view.at - since) / SECOND
  const low = lasts(house.lowSince, view.at, numbers.no_pressure_for)
  if (lasts(house.highSince, view.at, numbers.no_pressure_for) && house.running !== false)
    return verdict('over-pressure', house.highSince, house, ranS)
  if (house.running === null) {
    // A drained house has no pressure.
    const gone = low && !view.modes.winterized
    return gone ? verdict('no-pressure', house.lowSince, house, 0) : null
  }
  if (since === null) return null
  const light = house.pressurePa === null && house.usualA !== null && (house.currentA ?? 0) < LIGHT * house.usualA
  if ((low || light) && ranS >= numbers.no_pressure_for) return verdict('no-pressure', since, house, ranS)
  const patience = house.pressurePa === null ? 1 : PRESSURE_SERVES
  if (ranS < Math.max(numbers.runs_on * patience, 2 * (house.usualLongestRunS ?? 0))) return null
  return verdict('runs-on', since, house, ranS)
}

function lasts(since: Ms | null, at: Ms, seconds: number): boolean {
  return since !== null && at - since >= seconds * SECOND
}

function startsAlike(view: View, numbers: Numbers): Verdict | null {
  const { regular } = view.facts.house
  if (regular === null || regular.count < numbers.regular_starts) return null
  if (view.at - regular.since < numbers.regular_for * SECOND) return null
  return verdict('regular-starts', regular.since, view.facts.house, 0)
}

function startsOften(house: HouseFacts, numbers: Numbers, active: boolean): Verdict | null {
  const { usualRunS, usualBusyHour, usualPauseS, meanRunS, pauseS, shortestRunS } = house
  const shortS =
    usualRunS === null ? numbers.short_run : Math.max(numbers.short_run / 2, usualRunS * numbers.short_share)
  if (active && shortestRunS !== null && shortestRunS < WELL_AGAIN * shortS)
    return verdict('short-runs', house.firstStart, house, 0)
  const anHour = 2 * house.startsIn30Min
  if (anHour < numbers.starts_an_hour || meanRunS === null) return null
  // A run that falls between two samples is not seen, and what is seen of the others looks long; the pauses do not.
  const shortPauseS = usualPauseS === null ? SHORT_PAUSE * numbers.short_run : numbers.short_share * usualPauseS
  const short = meanRunS < shortS || (pauseS !== null && pauseS < shortPauseS)
  if (!short) return null
  // Runs of under half the short one are never well, however long they have been usual.
  if (usualBusyHour !== null && anHour < BUSIER * usualBusyHour && meanRunS > numbers.short_run / 2) return null
  return verdict('short-runs', house.firstStart, house, 0)
}

function verdict(cause: keyof typeof CAUSES, since: Ms | null, house: HouseFacts, ranS: number): Verdict {
  const { regular } = house
  return holding(
    PUMP,
    since,
    cause,
    evidenceList(
      ranS > 0 ? evidence('Runs for', 'duration', ranS, house.usualLongestRunS) : null,
      cause === 'short-runs'
        ? evidence('Starts in an hour', 'count', 2 * house.startsIn30Min, house.usualBusyHour)
        : null,
      cause === 'short-runs' ? evidence('A run lasts', 'duration', house.meanRunS, house.usualRunS) : null,
      cause === 'regular-starts' ? evidence('From start to start', 'duration', regular?.intervalS ?? null) : null,
      cause === 'regular-starts' ? evidence('A run lasts', 'duration', regular?.runS ?? null, house.usualRunS) : null,
      evidence('Pressure', 'pressure', house.pressurePa, house.usualLowPa),
      evidence('Current', 'current', house.running === true ? house.currentA : null, house.usualA),
    ),
  )
}

type Story = Pick<AlarmWords, 'title' | 'what' | 'causes' | 'action' | 'ifIgnored'>

function words(telling: Telling): AlarmWords {
  const { verdict: said } = telling
  const story = STORIES[said.cause as keyof typeof CAUSES] ?? STORIES['runs-on']
  return { ...story(telling, telling.view.facts.house), caution: CAUTION, timeLeft: null }
}

/** "(usually 45 s)", or that it is not learned. */
function usually(say: Phrase, seconds: number | null): string {
  return seconds === null ? 'usual not learned yet' : `usually ${say.span(seconds * SECOND)}`
}

function pressureWords(house: HouseFacts, say: Phrase): string {
  if (house.pressurePa === null) return 'the pressure is not measured'
  const usual =
    house.usualLowPa === null || house.usualHighPa === null
      ? ''
      : `, usually ${say.quantity('pressure', house.usualLowPa)} to ${say.quantity('pressure', house.usualHighPa)}`
  return `the pressure is ${say.quantity('pressure', house.pressurePa)}${usual}`
}

const STORIES: Record<keyof typeof CAUSES, (telling: Telling, house: HouseFacts) => Story> = {
  'short-runs': ({ since, say }, house) => ({
    title: 'House pump starts far too often',
    what: `Since ${say.time(since)} the pressure pump has started ${2 * house.startsIn30Min} times an hour${house.usualBusyHour === null ? '' : ` (in a usual busy hour ${Math.round(house.usualBusyHour)})`}, for ${say.span((house.meanRunS ?? 0) * SECOND)} at a time (${usually(say, house.usualRunS)}). Starts that fall between two samples are not seen: there may be more.`,
    causes: [
      'The accumulator is waterlogged: its air is gone or its bladder torn, so that it gives hardly any water between stop and start.',
      'The pressure switch is set too narrow, or its small pipe is blocked.',
      'If it goes on while nobody draws: the check valve lets water back as well.',
    ],
    action:
      "With the pump off and the taps open, check the vessel's air: about 14 kPa (2 psi) below the pressure at which the pump starts. Bring a gauge and a hand pump.",
    ifIgnored: 'Each start is a surge: switch, motor and battery wear fast, and the pump may burn out within weeks.',
  }),
  'regular-starts': ({ since, say }, house) => ({
    title: 'House pump starts though nobody draws water',
    what: `Since ${say.time(since)} the pressure pump has started every ${say.span((house.regular?.intervalS ?? 0) * SECOND)} (within ${say.span((house.regular?.spreadS ?? 0) * SECOND)}) for ${say.span((house.regular?.runS ?? 0) * SECOND)} at a time, ${house.regular?.count ?? 0} times so far. People do not draw so evenly.`,
    causes: [
      'A small leak on the house side: a running cistern, a dripping tap or valve, a pipe. Then the tank falls too; see whether there is an alarm for a leak.',
      'The check valve at the pump lets water back into the tank. Then the tank does not fall.',
      'A tap or a drip line is left open a little.',
    ],
    action:
      'Shut the valve after the accumulator: if the starts stop, the leak is in the house; if they go on, it is the check valve.',
    ifIgnored: 'Water and battery are lost day and night, and the pump wears with each start.',
  }),
  'no-pressure': ({ since, say }, house) => ({
    title: house.running === true ? 'House pump runs on without pressure' : 'No water pressure in the house',
    what:
      house.running === true
        ? `The pressure pump has run since ${say.time(since)} without stopping (its longest run on a day ${usually(say, house.usualLongestRunS)}); ${pressureWords(house, say)}, and it draws ${say.besideUsual('current', house.currentA, house.usualA)}.`
        : `The pressure has been gone since ${say.time(since)}: ${pressureWords(house, say)}. Whether the pump runs is not measured.`,
    causes: [
      'A pipe after the pump has burst, or a large tap or hose stands open: the tank falls fast then.',
      'The pump gets no water: suction shut, leaking, frozen, or the tank empty. It draws less than usual then.',
      'The pump is worn, or has lost its prime.',
    ],
    action: 'Switch the pump off, shut the valve at the tank, and look along the pipes for water.',
    ifIgnored: 'A burst pipe empties the tank; a pump that runs without water is ruined within minutes to hours.',
  }),
  'over-pressure': ({ since, say }, house) => ({
    title: 'House pump does not stop at its pressure',
    what: `Since ${say.time(since)} the pressure has stood above where the pump usually stops: ${pressureWords(house, say)}.`,
    causes: [
      'The contacts of the pressure switch have welded.',
      'The pipe to the pressure switch is blocked or frozen.',
    ],
    action: 'Switch the pump off now, then look at the pressure switch and its pipe.',
    ifIgnored: 'Pipes, heater and vessel stand above their pressure: what is weakest bursts.',
  }),
  'runs-on': ({ since, say }, house) => ({
    title: 'House pump does not stop',
    what: `The pressure pump has run since ${say.time(since)} without stopping (its longest run on a day ${usually(say, house.usualLongestRunS)}); ${pressureWords(house, say)}.`,
    causes: [
      'Somebody draws much water: a hose, a trough, a bath left running.',
      'A pipe after the pump has burst.',
      'The pump is worn or short of water, and no longer reaches the pressure at which it stops.',
      'The pressure switch sticks.',
    ],
    action: 'Ask who draws water; if nobody does, switch the pump off and look along the pipes.',
    ifIgnored: 'Tank and battery run down, and the pump wears out.',
  }),
}

const CAUSES = {
  'short-runs': 'Many short runs: an accumulator without air, mostly.',
  'regular-starts': 'Starts like clockwork while nobody draws: a small leak in the house or a check valve.',
  'no-pressure': 'It runs on, or may, and the pressure is gone: burst, dry or worn. The data do not always tell which.',
  'over-pressure': 'The pressure stands above where the pump usually stops.',
  'runs-on': 'It runs on, with pressure or without a sensor for it.',
} as const

export const housePumpCycling = defineAlarm({
  id: 'house-pump-cycling',
  meaning: 'The pressure pump of the house starts far too often, or never stops.',
  toldWithin: '30 min; starts that come evenly: the sixth of them',
  needs: '`house-pump-current` or `house-pressure`; both tell more',
  causes: CAUSES,
  advice: 'Check the air of the accumulator, the check valve and the pipes of the house.',
  explainedBy: [
    { by: 'tank-low', ofCauses: ['no-pressure', 'runs-on'] },
    { by: 'battery-low', ofCauses: ['no-pressure', 'runs-on'] },
    { by: 'freezing', ofCauses: ['no-pressure', 'runs-on'] },
    { by: 'leak', ofCauses: ['regular-starts', 'no-pressure', 'runs-on'] },
  ],
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
