/** What a contact's payload means: wet or dry, on or off. */
import { numberIn } from './number-text.js'

/** The words of one contact. `others` says what any further value means: false, or not readable. */
export type Truth = { readonly yes: ReadonlySet<string>; readonly no: ReadonlySet<string>; readonly others: boolean }

const YES = new Set(['true', '1', 'on', 'wet', 'yes', 'online'])
const NO = new Set(['false', '0', 'off', 'dry', 'no', 'offline'])
/** Words that say "no reading": never to be taken for false. */
const FAILED = new Set(['null', 'none', 'nan', 'unknown', 'unavailable', 'error', 'failed'])

/**
 * The words that mean true. Without a configured list only the usual words are understood; with one, every other
 * readable value means false. A configured 1 also covers the JSON `true`, and the reverse.
 */
export function truthOf(trueWhen: readonly (string | number | boolean)[] | null): Truth {
  if (trueWhen === null) return { yes: YES, no: NO, others: false }
  const yes = new Set<string>()
  for (const value of trueWhen) {
    yes.add(wordOf(value))
    if (typeof value === 'boolean') yes.add(value ? '1' : '0')
    if (value === 1 || value === 0) yes.add(String(value === 1))
  }
  return { yes, no: NO, others: true }
}

/** 1 or 0, or why there is none. */
export type ContactReading = 0 | 1 | 'not-finite' | 'out-of-range' | 'not-senml'

/**
 * Reads a contact.
 *
 * @param value a parsed JSON value, or the text of a payload
 */
export function readContact(truth: Truth, value: unknown): ContactReading {
  if (value === null) return 'not-finite'
  if (typeof value !== 'string' && typeof value !== 'number' && typeof value !== 'boolean') return 'not-senml'
  if (typeof value === 'number' && !Number.isFinite(value)) return 'not-finite'
  const word = wordOf(value)
  if (truth.yes.has(word)) return 1
  if (word === '') return 'not-senml'
  if (FAILED.has(word)) return 'not-finite'
  if (truth.others || truth.no.has(word)) return 0
  return typeof value === 'number' || /^[\d.+-]+$/.test(word) ? 'out-of-range' : 'not-senml'
}

/** One spelling for one meaning: " ON " is "on", 1.0 and "1.0" are "1". */
function wordOf(value: string | number | boolean): string {
  if (typeof value !== 'string') return String(value)
  const word = value.trim().toLowerCase()
  const number = numberIn(word)
  return typeof number === 'number' && Number.isFinite(number) ? String(number) : word
}
