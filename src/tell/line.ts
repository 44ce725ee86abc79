/** One-line pieces of text that can be put into a header, a subject or a list without breaking it. */
import { LIMITS } from '../model/limits.js'

// Controls, line and paragraph separators, and the marks that reverse the direction of writing.
const UNFIT = /[\p{Cc}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069]+/gu

/** Text on one line, without control characters: nothing in it can begin a new header or hide its own end. */
export function oneLine(text: string): string {
  return text.replace(UNFIT, ' ').replace(/ {2,}/g, ' ').trim()
}

/** A line of at most so many characters, cut between words and ended with `…` where anything had to go. */
export function cutLine(text: string, charsMax: number): string {
  const chars = [...oneLine(text)]
  if (chars.length <= charsMax) return chars.join('')
  const cut = chars.slice(0, charsMax - 1).join('')
  const space = cut.lastIndexOf(' ')
  return `${(space > cut.length / 2 ? cut.slice(0, space) : cut).trimEnd()}…`
}

/**
 * A subject: mark, place, what. The place gives way first when it does not fit, since the text names it again; the
 * mark ("TEST", "Over") never does.
 */
export function subjectLine(mark: string, place: string, what: string): string {
  const lead = mark === '' ? '' : `${mark}: `
  const whole = oneLine(`${lead}${place}: ${what}`)
  if ([...whole].length <= LIMITS.subjectCharsMax) return whole
  return cutLine(`${lead}${what}`, LIMITS.subjectCharsMax)
}
