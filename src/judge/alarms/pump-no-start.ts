import type { EndReason } from '../../model/fill.js'
import type { Ms } from '../../model/time.js'
import { defineAlarm, holding, QUIET, type Telling, unknownOf, type View, type Watch } from '../definition.js'
import type { RowId } from '../diagnosis/rows.js'
import { causesInWords, diagnosisOf } from '../diagnosis/causes.js'
import { evidence, evidenceList } from '../phrase.js'
import { batteryVoltage, CAUTION_PUMP, tankLasts, tankState, waterLeft } from './common.js'

const PUMP = 'pump'
const UNKNOWN = unknownOf(PUMP)
/** After such an end the pump is expected to start again by itself while water is called for. */
const STARTS_AGAIN_AFTER: readonly (EndReason | null)[] = ['dry', 'power-lost', 'stalled', 'unknown']

function look(view: View) {
  const { pump, water, battery } = view.facts
  if (!pump.known) return UNKNOWN
  if (pump.running) return QUIET
  if (water.levelM === null && water.lowWet === null) return UNKNOWN
  if (water.calledSince === null) return QUIET
  const fit = batteryFit(view)
  if (fit === null) return UNKNOWN
  const since = waitingSince(view, water.calledSince)
  if (!fit || since === null) return QUIET
  return [
    holding(
      PUMP,
      since,
      'no-current',
      evidenceList(
        evidence('Pump current', 'current', pump.currentA, pump.usualA?.value ?? null),
        evidence('Battery voltage', 'voltage', battery.recentV ?? battery.voltageV, battery.restLowV),
        evidence('Tank level', 'level', water.levelM),
        evidence('Water left', 'volume', water.volumeL),
      ),
    ),
  ]
}

/** Whether the battery could run the pump; null: not known. After a cut-off it must first have recovered at rest. */
function batteryFit({ facts }: View): boolean | null {
  const { battery, pump } = facts
  const voltageV = battery.recentV ?? battery.voltageV
  if (voltageV === null) return null
  if (battery.lowSince !== null) return false
  const wasLow = battery.lastLowAt !== null
  // A control that has cut the load off joins it again only well above; when, it does not say.
  if (wasLow && battery.rejoinV !== null && voltageV < battery.rejoinV) return false
  const limitV = pump.lastEnd === 'power-lost' ? (battery.restLowV ?? battery.loadedLowV) : battery.loadedLowV
  return limitV === null || voltageV > limitV
}

/** Since when the pump should have been running; null: it is expected to wait, or someone stopped it. */
function waitingSince({ facts, at }: View, calledSince: Ms): Ms | null {
  const { lastEnd, lastEndAt } = facts.pump
  // A slow well is rested for longer than any control says: an hour and more.
  const restingUntil = Math.max(facts.pump.restingUntil ?? 0, facts.episode.mayRestUntil ?? 0)
  if (restingUntil > at) return null
  const rested = Math.max(calledSince, restingUntil)
  if (lastEndAt === null || lastEndAt < calledSince) return rested
  return STARTS_AGAIN_AFTER.includes(lastEnd) ? Math.max(rested, lastEndAt) : null
}

const NO_CURRENT: readonly RowId[] = ['circuit-open', 'call-stuck', 'cut-off', 'current-unseen']

function words({ view, since, say }: Telling) {
  return {
    title: 'Water is called for but the pump does not start',
    what: `Water has been called for since ${say.time(since)} and the pump draws nothing; ${tankState(view.facts, say)}. The battery looks fit to run it (${batteryVoltage(view.facts, say)}).`,
    causes: causesInWords(diagnosisOf(view, NO_CURRENT)),
    action: 'Check the fuse and the controller of the pump first, then the float or probes, then the wire.',
    ifIgnored: `No more water comes: ${tankLasts(view.facts, say)}.`,
    caution: CAUTION_PUMP,
    timeLeft: waterLeft(view.facts, say),
  }
}

export const pumpNoStart = defineAlarm({
  id: 'pump-no-start',
  meaning:
    'Water is called for and the pump draws nothing, though the battery is fit to run it and the well is not being rested.',
  toldWithin: '15 min of the call',
  needs: '`pump-current`, `tank-level` or `tank-probe-low`, a battery voltage',
  causes: { 'no-current': 'The pump draws nothing.' },
  advice: 'Fuse, controller, float or probes, wire: in this order.',
  explainedBy: [
    { by: 'battery-low' },
    { by: 'pump-stalled' },
    { by: 'dry-well' },
    { by: 'no-rise' },
    { by: 'overfill' },
  ],
  quietWhenWinterized: true,
  prepare: (): Watch => ({ look, words }),
})
