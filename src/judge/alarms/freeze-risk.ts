import type { LineFacts } from '../../model/facts.js'
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
import { evidence, evidenceList, titleWith } from '../phrase.js'
import { CAUTION_ICE } from './common.js'

/** A night that is as cold as this is a hard frost (28 °F) [common practice]. */
const HARD_FROST_C = -2.2
/** Warmer than this a line that cools is only cooling down from the day. */
const COOL_C = 3
/** Mornings after which a method's doubt is this place's own; before, it is wide, and asks for a greater chance. */
const PROVEN_NIGHTS = 8
const UNPROVEN_END_SHARE = 1 / 3
/** Lines whose threat begins within this time are one story. */
const ONE_STORY_MS = 12 * HOUR

type Numbers = Prepared<'freeze-risk'>['numbers']

function look(view: View, prepared: Prepared<'freeze-risk'>): readonly Verdict[] {
  let found: Verdict[] | null = null
  for (const line of view.facts.lines) {
    const verdict = lookAt(view, prepared.numbers, line)
    if (verdict === null) continue
    found ??= []
    found.push(verdict)
  }
  return found ?? QUIET
}

function lookAt(view: View, numbers: Numbers, line: LineFacts): Verdict | null {
  if (line.depthM !== null) return lookAtGround(view, line, line.depthM, numbers.depth_share)
  const active = view.isActive('freeze-risk', line.name)
  if (line.temperatureC === null) return active ? (unknownOf(line.name)[0] ?? null) : null
  if (line.expectedMinC !== null && line.expectedMinSdC !== null) {
    const chance = chanceOfZero(line.expectedMinC, line.expectedMinSdC)
    const holds = chance >= (active ? endChance(view, numbers) : leastChance(view, line, numbers))
    return holds ? holding(line.name, null, 'tonight', seen(view, line)) : null
  }
  // Without a word about tonight only its fall now can tell.
  const soonH = (numbers.falls_within * SECOND) / HOUR
  const { hoursToZero, temperatureC } = line
  const near = hoursToZero !== null && hoursToZero <= soonH * (active ? 2 : 1) && temperatureC <= COOL_C
  const cold = active && temperatureC <= 1
  return near || cold ? holding(line.name, null, 'falls-now', seen(view, line)) : null
}

/**
 * What is likely is told as soon as the evening shows it. What is only possible waits while there is time, since the night
 * itself decides: until the line could be at 0 °C within `ahead`. Before the evening's figures there is a first idea only.
 */
function leastChance(view: View, line: LineFacts, numbers: Numbers): number {
  const { tonight } = view.facts.cold
  const { hoursToZeroLeast } = line
  const soon = hoursToZeroLeast !== null && hoursToZeroLeast <= (numbers.ahead * SECOND) / HOUR
  if (tonight === null || tonight.evening) {
    if (!soon) return numbers.chance_likely
    return proven(view) ? numbers.chance : numbers.chance_early
  }
  return soon ? numbers.chance_early : Number.POSITIVE_INFINITY
}

function endChance(view: View, numbers: Numbers): number {
  return proven(view) ? numbers.chance_to_end : numbers.chance_early * UNPROVEN_END_SHARE
}

function proven({ facts }: View): boolean {
  const { methods, tonight } = facts.cold
  return (methods.find((one) => one.method === tonight?.method)?.nights ?? 0) >= PROVEN_NIGHTS
}

/** Frost goes down over weeks: told when it is near the line, or will be within a fortnight at this cold. */
function lookAtGround(view: View, line: LineFacts, depthM: number, share: number): Verdict | null {
  const { frost } = view.facts.cold
  if (frost === null) return null
  const nearM = depthM * share * (view.isActive('freeze-risk', line.name) ? 0.9 : 1)
  if (frost.depthM < nearM && !(frost.fortnightM >= depthM && frost.depthM >= 0.8 * nearM)) return null
  return holding(
    line.name,
    null,
    'frost-depth',
    evidenceList(
      evidence('Frost in the ground', 'length', frost.depthM),
      evidence('The line lies at', 'length', depthM),
      evidence('In a fortnight, as cold as now', 'length', frost.fortnightM),
    ),
  )
}

/** Chance that the coldest is at or below 0 °C, for a normal doubt (logistic form of its integral, within 0.01). */
export function chanceOfZero(expectedC: number, sdC: number): number {
  const z = -expectedC / Math.max(sdC, 0.05)
  return 1 / (1 + Math.exp(-(1.5976 * z + 0.07056 * z ** 3)))
}

function seen(view: View, line: LineFacts) {
  const { tonight } = view.facts.cold
  return evidenceList(
    evidence(line.modelled ? 'Line temperature, modelled' : 'Line temperature', 'temperature', line.temperatureC),
    evidence('Its coldest, expected', 'temperature', line.expectedMinC),
    evidence('Air temperature', 'temperature', view.facts.airC),
    evidence("Tonight's minimum, expected", 'temperature', tonight?.expectedMinC ?? null),
    evidence('To 0 °C', 'duration', line.hoursToZero === null ? null : line.hoursToZero * 3_600),
  )
}

const WAYS: Readonly<Record<string, string>> = {
  own: "by this site's own nights",
  general: 'by a general rule with wide margins, since there are not enough own nights yet',
  forecast: 'by the forecast that is sent in',
  persistence: 'by last night, and how today differs from yesterday',
}

function words(telling: Telling) {
  return telling.verdict.cause === 'frost-depth' ? groundWords(telling) : nightWords(telling)
}

function nightWords(telling: Telling) {
  const { view, verdict, since, say } = telling
  const { facts } = view
  const line = facts.lines.find((one) => one.name === verdict.subject)
  const { tonight, hardFrostOn } = facts.cold
  const first = tonight !== null && tonight.expectedMinC <= HARD_FROST_C && hardFrostOn === null
  const full =
    facts.water.volumeL === null
      ? ''
      : `, and the system is full of water (${say.quantity('volume', facts.water.volumeL)} in the tank)`
  const night =
    tonight === null
      ? `Since ${say.time(since)} it falls so fast that it would reach freezing ${hoursAway(line?.hoursToZero ?? null, say)}.`
      : `By what is known at ${say.time(since)} the night falls to ${say.quantity('temperature', tonight.expectedMinC)} (${spread(tonight.expectedMinC, tonight.sdC, say)} in two nights of three) around ${say.time(tonight.sunrise)}, ${WAYS[tonight.method] ?? 'by what is known'}.`
  const basis = line?.modelled === true ? 'by the model that follows the air' : 'by its own sensor'
  const own = `${verdict.subject} is at ${say.quantity('temperature', line?.temperatureC ?? null)} ${basis}${line?.expectedMinC == null ? '' : ` and may come to ${say.quantity('temperature', line.expectedMinC)}`}.`
  return {
    title: first
      ? titleWith('First hard frost: ', verdict.subject, ' at risk')
      : titleWith('', verdict.subject, ' may freeze tonight'),
    what: `${first ? `The first hard frost of the season is expected tonight${full}. ` : ''}${night} ${own}${others(telling)}`,
    causes: [
      tonight?.sky === 'clear' ? 'A clear, still night: the ground loses its warmth to the sky.' : 'Cold air.',
      ...(line?.flowing === true ? [] : ['The water in the line stands still.']),
      ...(line?.modelled === true ? ['The model may be wrong: this line has no sensor of its own.'] : []),
    ],
    action: view.modes.away
      ? 'Have somebody near drain the line, warm it or close its box before the night; if nobody can, shut and drain the system.'
      : 'Drain the line, warm it, close its box, or let a little water run through the night.',
    ifIgnored: 'Standing water turns to ice; pipes, valves and pumps burst, and leak when they thaw.',
    caution: CAUTION_ICE,
    timeLeft: timeLeft(line, say),
  }
}

function timeLeft(line: LineFacts | undefined, say: Telling['say']): string | null {
  if (line === undefined) return null
  const ice = line.hoursToIce === null ? '' : ` Frozen through ${hoursAway(line.hoursToIce, say)}.`
  if (line.hoursToZero !== null) {
    const least = line.hoursToZeroLeast
    const early = least !== null && least < line.hoursToZero - 1 ? `, at the earliest ${hoursAway(least, say)}` : ''
    return `It reaches 0 °C ${hoursAway(line.hoursToZero, say)}${early}.${ice}`
  }
  if (line.hoursToZeroLeast === null) return null
  return `If the night is colder than expected it reaches 0 °C ${hoursAway(line.hoursToZeroLeast, say)}.`
}

function hoursAway(hours: number | null, say: Telling['say']): string {
  if (hours === null) return 'at a time that is not known'
  return hours < 1 ? 'in less than 1 h' : `in ${say.hours(hours)}`
}

function spread(c: number, sdC: number, say: Telling['say']): string {
  return `${say.quantity('temperature', c - sdC)} to ${say.quantity('temperature', c + sdC)}`
}

function others({ view, verdict, say }: Telling): string {
  const also = view.facts.lines.filter(
    (one) =>
      one.name !== verdict.subject &&
      one.expectedMinC !== null &&
      one.expectedMinSdC !== null &&
      chanceOfZero(one.expectedMinC, one.expectedMinSdC) >= 0.1,
  )
  return also.length === 0
    ? ''
    : ` Also at risk: ${also.map((one) => `${one.name} (${say.quantity('temperature', one.expectedMinC)})`).join(', ')}.`
}

function groundWords({ view, verdict, since, say }: Telling) {
  const { frost } = view.facts.cold
  const days = frost === null ? '' : ` from ${frost.days} days since ${frost.since}`
  return {
    title: titleWith('Frost in the ground nears ', verdict.subject, ''),
    what: `At ${say.time(since)}, by the cold of this season${days}, frost stands ${say.quantity('length', frost?.depthM ?? null)} deep in bare ground (${say.quantity('length', frost?.shallowM ?? null)} under turf, ${say.quantity('length', frost?.deepM ?? null)} where snow is cleared away). In a fortnight as cold as the last week: ${say.quantity('length', frost?.fortnightM ?? null)}.`,
    causes: ['Weeks of cold.', 'Ground that is bare, cleared of snow or driven over freezes deeper.'],
    action:
      'Leave the snow on the line, cover the ground above it, and keep water moving; drain it if the place stands empty.',
    ifIgnored: 'A buried line that freezes stays frozen for weeks, and is dug up to be mended.',
    caution:
      'The depth is reckoned from the air and a common soil, not measured: dig with care, and ask where cables lie.',
    timeLeft: 'Frost goes down over days and weeks, not hours.',
  }
}

export const freezeRisk = defineAlarm({
  id: 'freeze-risk',
  meaning: "Tonight's predicted minimum, or the frost in the ground, threatens a named line.",
  toldWithin:
    'likely frost by 2 h after sunset, possible frost at least 3 h before a line reaches 0 °C in clear nights',
  needs:
    "a line in the configuration, `air-temperature` or the line's own `line-temperature`, and latitude and longitude; without those only a line that falls fast is seen",
  causes: {
    tonight: 'The night is expected to take the line to 0 °C, with the chance that is set.',
    'falls-now': 'Nothing is known of the night, and the line falls towards 0 °C.',
    'frost-depth': 'The frost in the ground, reckoned from the freezing index, nears a buried line.',
  },
  advice:
    'Drain, warm or run the line before the night. A cold spell is one story: it ends when two days have passed without a threat.',
  explainedBy: [{ by: 'freezing' }, { by: 'freeze-risk', withinMs: ONE_STORY_MS }],
  quietWhenWinterized: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
