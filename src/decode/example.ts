import { LIMITS } from '../model/limits.js'

/**
 * The example of a refusal: what was found, short and safe to print on one line. Control characters, line
 * separators and marks that turn the direction of writing become `·`, so that a hostile payload cannot disguise
 * itself in a log or on the page.
 *
 * Written without recursion and without `JSON.stringify`, which overflows the stack on a deeply nested payload.
 *
 * @param what a sentence of ours about the fault, or '' where the reason says it all
 * @param found the text or parsed JSON value that was refused
 */
export function exampleOf(what: string, found: unknown): string {
  const shown = typeof found === 'string' ? found : glance(found)
  const room = LIMITS.exampleCharsMax
  const whole = what === '' ? shown : `${what}: ${shown.slice(0, room)}`
  return shorten(printable(whole.slice(0, room + 1)), room)
}

// biome-ignore lint/suspicious/noControlCharactersInRegex: finding them is the purpose
const UNPRINTABLE = /[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffd]/g
/** Halves of a surrogate pair that lost each other. */
const HALVES = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g

function printable(text: string): string {
  return text.replace(UNPRINTABLE, '·').replace(HALVES, '·')
}

function shorten(text: string, room: number): string {
  if (text.length <= room) return text
  return `${text.slice(0, room - 1).replace(/[\ud800-\udbff]$/, '')}…`
}

/** A parsed value at one glance: its own members, nested ones as `{…}` or `[…]`. */
function glance(value: unknown): string {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return member(value)
  let text = '{'
  for (const [label, inner] of Object.entries(value)) {
    if (text.length > LIMITS.exampleCharsMax) break
    text += `${text === '{' ? '' : ','}"${label.slice(0, LIMITS.exampleCharsMax)}":${member(inner)}`
  }
  return `${text}}`
}

function member(value: unknown): string {
  if (typeof value === 'string') return `"${value.slice(0, LIMITS.exampleCharsMax)}"`
  if (Array.isArray(value)) return '[…]'
  return typeof value === 'object' && value !== null ? '{…}' : String(value)
}
