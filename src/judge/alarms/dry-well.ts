import { SECOND } from '../../model/time.js'
import type { Diagnosis } from '../diagnosis/classify.js'
import { causesInWords, diagnosisOf } from '../diagnosis/causes.js'
import { waterShown } from '../diagnosis/shown.js'
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
import {
  CAUTION_PUMP,
  endedAsUsual,
  steadyCurrentA,
  tankState,
  usualCurrentA,
  waterArrivedSince,
  waterLeft,
} from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)

/** While the site is being learned, only a fall to this share of the run's own current counts. */
const LEARNING_RATIO = 0.65
/** A run that went light must have fallen this far from its own band. */
const OWN_BAND_RATIO = 0.85

function look(view: View, { site, numbers }: Prepared<'dry-well'>) {
  const { pump } = view.facts
  if (!pump.known) return UNKNOWN
  if (!pump.running) return stopped(view, numbers.stop_counts_for)
  if (!pump.settled) return UNKNOWN
  // While a well is rested between short runs, the water that a run brings at first ends no story.
  if (pump.lightSince === null) return view.facts.episode.open ? resting(view) : QUIET
  if (view.facts.episode.asUsual) return resting(view)
  const current = steadyCurrentA(pump)
  const usual = usualCurrentA(pump, site)
  if (current === null || pump.lightCount < numbers.samples) return UNKNOWN
  if (pump.lightFromStart && view.at - pump.lightSince < numbers.from_start * SECOND) return UNKNOWN
  if (waterArrivedSince(view.facts, pump.lightSince)) return QUIET
  if (!isLight(view, current, usual, numbers.light_ratio)) return UNKNOWN
  const cause = nameOf(dryOrPrime(view))
  return [holding(PUMP, pump.lightSince, cause, numbersSeen(view, usual))]
}

function isLight(view: View, current: number, usual: number | null, ratio: number): boolean {
  const { pump, water } = view.facts
  if (view.facts.learning) {
    return water.noRiseSince !== null && pump.runA !== null && current < LEARNING_RATIO * pump.runA
  }
  if (usual !== null && current >= ratio * usual) return false
  if (pump.lightFromStart) return usual !== null
  return pump.runA === null ? usual !== null : current < OWN_BAND_RATIO * pump.runA
}

/** What the readings make of a light current: a well pumped down and a lost prime look the same; one is the likelier. */
function dryOrPrime(view: View): Diagnosis {
  return diagnosisOf(view, ['well-dry', 'prime-lost'])
}

function nameOf({ ranked }: Diagnosis): string {
  return ranked[0]?.row.id === 'prime-lost' ? 'light-from-start' : 'went-light'
}

/** A slow well that its control rests: told once, as what it is; later only if an hour of rest is worth less. */
function resting(view: View) {
  const { episode } = view.facts
  const active = view.isActive('dry-well', PUMP)
  if (episode.fallenTo !== null && episode.active) {
    return [holding(PUMP, episode.since, 'recovers-less', episodeNumbers(view))]
  }
  if (episode.active && (active || !episode.known)) {
    return [holding(PUMP, episode.since, 'rests-slow-well', episodeNumbers(view))]
  }
  return active ? UNKNOWN : QUIET
}

function episodeNumbers({ facts }: View) {
  const { episode } = facts
  return evidenceList(
    evidence('Water a start', 'volume', episode.litresPerStart?.value ?? null),
    evidence('For an hour of rest', 'volume', episode.litresPerRestH?.value ?? null, episode.usualLPerRestH?.value),
    evidence('The well gives in an hour', 'volume', episode.recoveryLH?.value ?? null),
    evidence('Starts', 'count', episode.starts),
  )
}

/** At rest the well cannot be told: only a fresh stop for dryness says more, and only a full tank says it is over. */
function stopped(view: View, countsForS: number) {
  const { pump } = view.facts
  if (pump.lastEnd === 'full') return QUIET
  const { episode } = view.facts
  const resumed = episode.active && (!episode.known || view.isActive('dry-well', PUMP))
  if (episode.open && (episode.asUsual || resumed)) return resting(view)
  if (pump.lastEnd !== 'dry' || pump.lastEndAt === null) return UNKNOWN
  if (endedAsUsual(pump)) return UNKNOWN
  if (view.at - pump.lastEndAt > countsForS * SECOND) return UNKNOWN
  const usual = pump.usualA?.value ?? null
  // Before the site is known, its control's word is taken only with a current that no pipe or battery explains.
  const plainly = pump.lastEndA !== null && usual !== null && pump.lastEndA < LEARNING_RATIO * usual
  if (view.facts.learning && !plainly) return UNKNOWN
  return [
    holding(
      PUMP,
      pump.lastEndAt,
      'stopped-by-control',
      evidenceList(evidence('Pump current at the end', 'current', pump.lastEndA, usual)),
    ),
  ]
}

function numbersSeen(view: View, usual: number | null) {
  const { pump, water } = view.facts
  return evidenceList(
    evidence('Pump current', 'current', steadyCurrentA(pump), usual),
    evidence('Earlier in this run', 'current', pump.runA),
    evidence('Water arrived', 'volume', water.seenRiseL, water.expectedRiseL),
    evidence('Running for', 'duration', pump.ranS, water.expectedFillS),
  )
}

function words({ view, verdict, since, say }: Telling) {
  const { pump, water } = view.facts
  const byControl = verdict.cause === 'stopped-by-control'
  const current = byControl ? pump.lastEndA : steadyCurrentA(pump)
  const usual = verdict.evidence[0]?.usual ?? pump.runA
  if (verdict.cause === 'rests-slow-well' || verdict.cause === 'recovers-less')
    return slowWords(view, verdict.cause, say)
  const sure = water.noRiseSince !== null || waterShown(view.facts) === 'none'
  const water_ = sure
    ? `No water has been seen to arrive since ${say.time(water.noRiseSince ?? since)}; ${tankState(view.facts, say)}.`
    : `Whether water still arrives cannot be measured yet; ${tankState(view.facts, say)}.`
  const what = byControl
    ? `The pump stopped at ${say.time(since)} after its current had fallen to ${say.besideUsual('current', current, usual)}: its control rests the well.`
    : `The pump has run light since ${say.time(since)}: ${say.besideUsual('current', current, usual)}.`
  return {
    title: byControl
      ? 'Pump stopped: well probably dry'
      : sure
        ? 'Pump runs but no water comes'
        : 'Pump runs light, probably no water',
    what: `${what} ${water_}`,
    causes: causesInWords(dryOrPrime(view)),
    action: byControl
      ? 'Let the well recover; watch whether the next run brings water. If the control does not rest it, switch the pump off.'
      : 'Switch the pump off and let the well recover for an hour, then try again and watch whether the level rises.',
    ifIgnored: 'Some pumps are ruined by minutes of running dry; no water reaches the tank meanwhile.',
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

function slowWords({ facts }: View, cause: string, say: Telling['say']) {
  const { episode } = facts
  const litres = (figure: { value: number; sd: number } | null): string =>
    figure === null
      ? 'not known yet'
      : `${say.quantity('volume', figure.value)} ± ${say.quantity('volume', 2 * figure.sd)}`
  const less = cause === 'recovers-less'
  const usual = say.quantity('volume', episode.usualLPerRestH?.value ?? null)
  return {
    title: less ? 'Slow well gives less than it did' : 'Slow well: its control rests it between short runs',
    what: `Since ${say.time(episode.since)} the pump has made ${episode.starts} short runs, each ended dry and followed by a rest. A start brings ${litres(episode.litresPerStart)}, an hour of rest ${litres(episode.litresPerRestH)}${less ? ` (usually ${usual})` : ''}; the well gives ${litres(episode.recoveryLH)} an hour. ${tankState(facts, say)[0]?.toUpperCase()}${tankState(facts, say).slice(1)}.`,
    causes: [
      'The well gives less than the pump takes: drought, a lower water table, or a clogged screen.',
      'The pump hangs too high, or is too large for this well.',
      ...(less ? ['Water runs back through a leaking check valve during the rests.'] : []),
    ],
    action: less
      ? 'Save water; measure the water level in the well after a night of rest, and compare with earlier ones.'
      : 'Nothing at once: the control does what it should. Longer rests and fewer starts spare the pump.',
    ifIgnored: 'Each short run wears the pump; if less comes in than is used, the tank runs low.',
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(facts, say),
  }
}

export const dryWell = defineAlarm({
  id: 'dry-well',
  meaning:
    'The pump runs, water has stopped arriving and the current has fallen below its own running band; or its control has just stopped it for that.',
  toldWithin: '5 min of the water stopping',
  needs: '`pump-current`; `tank-level` makes it sure',
  causes: {
    'went-light': 'The pump runs light: a well pumped down, or a lost prime; the first is likelier by what was read.',
    'light-from-start':
      'The pump runs light: lost prime, broken coupling, or a well that is dry at once; the first are likelier.',
    'stopped-by-control': "The pump's own control ended the run because it ran dry.",
    'rests-slow-well':
      'Three and more short runs that ended dry with rests between: a slow well, rested on purpose. Told the first time only.',
    'recovers-less': 'An hour of rest brings less than three quarters of what it usually did at this slow well.',
  },
  advice:
    'Switch the pump off, let the well recover, try again. While the site is being learned it is told only if the current falls far below that of the same run and the water is seen to stop.',
  explainedBy: [{ by: 'pump-stalled' }, { by: 'fill-long', causes: ['runs-while-winterized'] }],
  surerCauses: ['rests-slow-well', 'recovers-less'],
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
