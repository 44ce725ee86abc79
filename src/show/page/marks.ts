/** What happened in a span, to be marked on its time axis and listed beneath: fills, alarms, entries of the log. Pure. */
import type { AlarmBody } from '../bodies/alarms.js'
import type { CycleBody, JournalBody } from '../bodies/history.js'
import { duration, type People } from './people.js'

export type Mark = {
  readonly kind: 'fill' | 'alarm' | 'entry'
  readonly from: number
  /** Null: an instant, or not over yet. */
  readonly to: number | null
  readonly words: string
}

export const MARK_NAMES: Readonly<Record<Mark['kind'], string>> = { fill: 'Fill', alarm: 'Alarm', entry: 'Log' }

/** In the order of time. An alarm is marked from when it was raised until it cleared. */
export function marksOf(
  cycles: readonly CycleBody[],
  alarms: readonly AlarmBody[],
  entries: readonly JournalBody[],
  people: People,
): Mark[] {
  const fills = cycles.map((one): Mark => {
    const words = `${duration(one.duration_s)}, ${people.sure('volume', one.volume_l, one.volume_sd_l)}`
    return { kind: 'fill', from: Date.parse(one.start), to: Date.parse(one.end), words }
  })
  const raised = alarms.map((one): Mark => {
    const to = one.cleared === null ? null : Date.parse(one.cleared)
    return { kind: 'alarm', from: Date.parse(one.raised), to, words: `${one.title} (${one.priority} priority)` }
  })
  const written = entries.map((one): Mark => {
    const baseline = one.new_baseline ? ' (learning anew from here)' : ''
    return { kind: 'entry', from: Date.parse(one.at), to: null, words: `${one.text}${baseline}` }
  })
  return [...fills, ...raised, ...written].toSorted((a, b) => a.from - b.from)
}
