/**
 * The short form: one text message, `PLACE: what, since when, number beside usual. Do first. link`. What matters
 * most stands first; each further piece goes in only where it fits whole.
 */
import { LIMITS } from '../model/limits.js'
import { fitSeptets, septets, toGsm } from './gsm.js'
import { oneLine } from './line.js'

export type ShortParts = {
  readonly place: string
  readonly what: string
  /** Further facts, in order of worth. */
  readonly more: readonly string[]
  readonly action: string | null
  readonly link: string | null
}

function clean(text: string): string {
  return oneLine(toGsm(oneLine(text)))
}

function firstSentence(text: string): string {
  const end = text.search(/[.!?](\s|$)/)
  return end < 0 ? text : text.slice(0, end + 1)
}

function fits(text: string): boolean {
  return (septets(text) ?? Number.POSITIVE_INFINITY) <= LIMITS.shortSeptetsMax
}

/** At most 160 septets of the 7-bit alphabet, on one line. A link is never cut: it is there whole or not at all. */
export function shortForm({ place, what, more, action, link }: ShortParts): string {
  const lead = clean(`${place}: ${what}`).replace(/[.\s]+$/, '')
  if (!fits(`${lead}.`)) return fitSeptets(lead, LIMITS.shortSeptetsMax)
  let text = lead
  for (const piece of more) {
    const longer = `${text}, ${clean(piece)}`
    if (fits(`${longer}.`)) text = longer
  }
  text = `${text}.`
  for (const piece of [action === null ? null : firstSentence(action), link]) {
    if (piece === null || piece === '') continue
    const longer = `${text} ${clean(piece)}`
    if (fits(longer)) text = longer
  }
  return text
}
