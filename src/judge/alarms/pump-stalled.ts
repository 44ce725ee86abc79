import { MINUTE } from '../../model/time.js'
import { causesInWords, diagnosisOf } from '../diagnosis/causes.js'
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
import { CAUTION_PUMP, endedAsUsual, usualCurrentA, waterArrivedSince, waterAndCutOff } from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)
const STOP_COUNTS_FOR_MS = 10 * MINUTE

function look(view: View, { site, numbers }: Prepared<'pump-stalled'>) {
  const { pump } = view.facts
  if (!pump.known) return UNKNOWN
  // Not the usual at the voltage now: a sagging battery must not make a hard-working pump a jammed one.
  const usual = pump.usualA?.value ?? usualCurrentA(pump, site)
  // Many starts of which few are heavy are a control that chatters; its inrush is caught now and then.
  if (pump.heavyTriesIn10Min >= numbers.tries && 2 * pump.heavyTriesIn10Min >= pump.startsIn10Min) {
    const tries = evidence('Short heavy starts in 10 min', 'count', pump.heavyTriesIn10Min)
    const current = evidence('Pump current', 'current', pump.running ? pump.currentA : pump.lastEndA, usual)
    return [holding(PUMP, null, 'trips-and-tries', evidenceList(tries, current))]
  }
  if (!pump.running) return stopped(view, usual)
  if (pump.heavySince === null) return pump.settled ? QUIET : UNKNOWN
  const current = pump.currentA ?? pump.recentA
  if (current === null || usual === null || pump.heavyCount < samplesFor(view, numbers.samples)) return UNKNOWN
  if (current < numbers.heavy_ratio * usual || waterArrivedSince(view.facts, pump.heavySince)) return UNKNOWN
  return [
    holding(
      PUMP,
      pump.heavySince,
      'heavy',
      evidenceList(
        evidence('Pump current', 'current', current, usual),
        evidence('Battery voltage', 'voltage', view.facts.battery.voltageV),
      ),
    ),
  ]
}

/** A control that chatters starts the pump again and again: then a few readings of inrush in a row are no jam. */
const CHATTER_FACTOR = 3

function samplesFor({ facts }: View, samples: number): number {
  return facts.episode.chatterSince === null ? samples : CHATTER_FACTOR * samples
}

/** A pump at rest shows nothing: only a normal run, or a run that ended as it should, proves that it turns again. */
function stopped(view: View, usual: number | null) {
  const { pump } = view.facts
  if (pump.lastEnd !== 'stalled') return pump.lastEnd === 'full' || pump.lastEnd === 'dry' ? QUIET : UNKNOWN
  if (pump.lastEndAt === null || view.at - pump.lastEndAt > STOP_COUNTS_FOR_MS || endedAsUsual(pump)) return UNKNOWN
  // What is left of the last minute after a blown fuse is no measure of the jam.
  const wasHeavy = pump.lastEndA !== null && usual !== null && pump.lastEndA > usual
  return [
    holding(
      PUMP,
      pump.lastEndAt,
      'stopped-heavy',
      evidenceList(
        evidence('Pump current at the end', 'current', wasHeavy ? pump.lastEndA : null, usual),
        evidence('Usual pump current', 'current', wasHeavy ? null : usual),
        evidence('Starts in 10 min', 'count', pump.startsIn10Min),
      ),
    ),
  ]
}

function words({ view, verdict, since, say }: Telling) {
  const { pump } = view.facts
  const seen = verdict.evidence.find((item) => item.quantity === 'current')
  const amps = say.besideUsual('current', seen?.value ?? null, seen?.usual ?? null)
  const how =
    seen?.usual === null
      ? `its current was far above the usual ${say.quantity('current', seen.value)}`
      : `its current was far above the usual: ${amps}`
  const what = {
    'trips-and-tries': `Up to ${say.time(since)} the pump has tried to start ${pump.heavyTriesIn10Min} times in 10 min, and each time stopped at once with a heavy current: ${amps}.`,
    'stopped-heavy': `The pump stopped at ${say.time(since)} because ${how}. A fuse or protector has probably opened.`,
  }[verdict.cause]
  return {
    title: 'Pump is jammed: heavy current, no water',
    what: what ?? `The pump has drawn a heavy current since ${say.time(since)}: ${amps}. It is not turning.`,
    causes: causesInWords(diagnosisOf(view, ['locked', 'cable-damaged', 'line-solid'])),
    action: 'Switch the pump off now at its control and leave it off until the cause is found.',
    ifIgnored: 'Within minutes the motor can burn out, the cable overheat and the battery be drained.',
    caution: CAUTION_PUMP,
    timeLeft: waterAndCutOff(view.facts, say),
  }
}

export const pumpStalled = defineAlarm({
  id: 'pump-stalled',
  meaning: 'The current stays far above the running band with no water arriving: the rotor does not turn.',
  toldWithin: '60 s',
  needs: '`pump-current`, and a usual current: learned, or `running_current`',
  causes: {
    heavy: 'The current is heavy and stays so.',
    'trips-and-tries': 'A protector opens and the pump tries again, several times in 10 min.',
    'stopped-heavy': 'The run ended with a heavy current: a fuse or protector opened.',
  },
  advice: 'Switch the pump off at once. The alarm stands until a run is seen to be normal again.',
  explainedBy: [],
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
