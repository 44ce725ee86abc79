/** The small pieces of an alarm's sentences, in the units and the time zone of its site. */
import type { Evidence, QuantityKind } from '../model/alarm.js'
import { formatAboutHours, formatDuration, formatLocalTime, formatQuantity } from '../model/format.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'

/** A title must fit a telephone's one line. */
export const TITLE_CHARS_MAX = 60

export type Phrase = {
  quantity(kind: QuantityKind, value: number | null): string
  /** "1.0 A (usually 2.8 A)", or without the bracket where the usual is not known. */
  besideUsual(kind: QuantityKind, value: number | null, usual: number | null): string
  /** Site's own time: "Tue 3 Feb 14:05". */
  time(at: Ms | null): string
  span(ms: number | null): string
  hours(hours: number | null): string
}

export function createPhrase(site: SiteSettings): Phrase {
  const quantity = (kind: QuantityKind, value: number | null) => formatQuantity(kind, value, site.units)
  return {
    quantity,
    besideUsual: (kind, value, usual) =>
      usual === null ? quantity(kind, value) : `${quantity(kind, value)} (usually ${quantity(kind, usual)})`,
    time: (at) => formatLocalTime(at, site.timezone),
    span: formatDuration,
    hours: formatAboutHours,
  }
}

/** A title with a name in it; a name that is too long for the line is cut, the rest is not. */
export function titleWith(before: string, name: string, after: string): string {
  const room = TITLE_CHARS_MAX - before.length - after.length
  const fitted = name.length <= room ? name : `${name.slice(0, Math.max(0, room - 1))}…`
  return `${before}${fitted}${after}`
}

/** A number that an alarm rests on; null where it is not known, so that no unknown is shown as a figure. */
export function evidence(
  label: string,
  quantity: QuantityKind,
  value: number | null,
  usual: number | null = null,
): Evidence | null {
  if (value === null || !Number.isFinite(value)) return null
  return { label, quantity, value, usual: usual !== null && Number.isFinite(usual) ? usual : null }
}

/** Leaves out what is not known. */
export function evidenceList(...items: readonly (Evidence | null)[]): readonly Evidence[] {
  return items.filter((item): item is Evidence => item !== null)
}

/** "level of tank 2" for `tank-level.tank 2`: a signal as a person would call it. */
export function signalName(key: string): string {
  const dot = key.indexOf('.')
  const role = (dot < 0 ? key : key.slice(0, dot)).replaceAll('-', ' ')
  return dot < 0 ? role : `${role} "${key.slice(dot + 1)}"`
}
