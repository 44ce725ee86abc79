import type { LineFacts } from '../../model/facts.js'
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
import { LIMITS } from '../../model/limits.js'

/** Other lines as cold as this are named in the same message. */
const ALSO_COLD_C = 1

function look(view: View, { numbers }: Prepared<'freezing'>): readonly Verdict[] {
  let found: Verdict[] | null = null
  for (const line of view.facts.lines) {
    const verdict = lookAt(view, line, numbers.thawed)
    if (verdict === null) continue
    found ??= []
    found.push(verdict)
  }
  return found ?? QUIET
}

function lookAt(view: View, line: LineFacts, thawedC: number): Verdict | null {
  if (line.temperatureC === null) {
    return view.isActive('freezing', line.name) ? (unknownOf(line.name)[0] ?? null) : null
  }
  // A thaw by day between nights of frost ends nothing: while the nights threaten, a lasting frost is one story.
  const again = (line.expectedMinC !== null && line.expectedMinC <= 0) || view.isActive('freeze-risk', line.name)
  const held = (line.temperatureC < thawedC || again) && view.isActive('freezing', line.name)
  if (line.frozenSince === null && !held) return null
  return holding(
    line.name,
    line.frozenSince,
    line.modelled ? 'modelled' : 'measured',
    evidenceList(
      evidence(line.modelled ? 'Line temperature, modelled' : 'Line temperature', 'temperature', line.temperatureC),
      evidence('Air temperature', 'temperature', view.facts.airC),
    ),
  )
}

function words({ view, verdict, since, say }: Telling) {
  const line = view.facts.lines.find((one) => one.name === verdict.subject)
  const others = view.facts.lines.filter(
    (one) => one.name !== verdict.subject && one.temperatureC !== null && one.temperatureC <= ALSO_COLD_C,
  )
  const modelled = verdict.cause === 'modelled'
  const air =
    view.facts.airC === null
      ? 'the air temperature is not known'
      : `the air is at ${say.quantity('temperature', view.facts.airC)}`
  const temperature = say.quantity('temperature', line?.temperatureC ?? null)
  const basis = modelled ? 'by the model that follows the air' : 'by its own sensor'
  const also =
    others.length === 0
      ? ''
      : ` Also cold: ${others.map((one) => `${one.name} ${say.quantity('temperature', one.temperatureC)}`).join(', ')}.`
  return {
    title: titleWith('Freezing: ', verdict.subject, ''),
    what: `${verdict.subject} has been at or below freezing since ${say.time(since)}: ${temperature} ${basis}; ${air}.${also}`,
    causes: [
      'The night is colder than the line can stand.',
      'Its heating, insulation or cover has failed, or a door stands open.',
      ...(modelled ? ['The model may be wrong: this line has no sensor of its own.'] : []),
    ],
    action: 'Warm or drain the line, or let water run through it; have somebody near look if you are away.',
    ifIgnored: 'Standing water turns to ice within hours; pipes, valves and pumps burst and leak when they thaw.',
    caution: CAUTION_ICE,
    timeLeft: iceIn(line, modelled, say),
  }
}

function iceIn(line: LineFacts | undefined, modelled: boolean, say: Telling['say']): string | null {
  const hours = line?.hoursToIce ?? null
  if (hours !== null) return `Until ice blocks or bursts it: ${say.hours(hours)} at this cold.`
  return modelled ? null : 'Ice forms within hours from now; how many depends on the line and the cold.'
}

export const freezing = defineAlarm({
  id: 'freezing',
  meaning: "A line's temperature, or its modelled temperature, is at 0 °C.",
  toldWithin: '5 min',
  needs: 'a line in the configuration and `line-temperature`, or `air-temperature` for the model',
  causes: {
    measured: "The line's own sensor says so.",
    modelled: 'The line is followed from the air by its time constant.',
  },
  advice: 'Warm, drain or run the line. After a thaw look for leaks, then acknowledge: the alarm stays until then.',
  explainedBy: [{ by: 'freezing', withinMs: 24 * LIMITS.siblingWindowMs }],
  quietWhenWinterized: true,
  latches: true,
  prepare: (prepared): Watch => ({ look: (view) => look(view, prepared), words }),
})
