/**
 * From bytes to a JSON value. SenML allows UTF-8 alone (RFC 8428 section 5), so bytes that are not UTF-8 are
 * refused, not guessed; a byte order mark is passed over (RFC 8259 section 8.1 lets a parser do so).
 */

/** The one web-standard class that this room uses; declared here because the pure rooms have no platform types. */
declare const TextDecoder: {
  new (label: string, options: { fatal: boolean }): { decode(bytes: Uint8Array): string }
}

const utf8 = new TextDecoder('utf-8', { fatal: true })

/** The text of a payload, or null when the bytes are not UTF-8. */
export function textOf(payload: Uint8Array): string | null {
  try {
    return utf8.decode(payload)
  } catch {
    return null
  }
}

/** What a text holds as JSON: the value, or undefined when it is not JSON (JSON itself has no undefined). */
export function jsonOf(text: string): unknown {
  const plain = parse(text)
  if (plain !== undefined) return plain
  const mended = withoutNaN(text)
  return mended === text ? undefined : parse(mended)
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return undefined
  }
}

const NOT_A_NUMBER = /[+-]?(?:nan|inf(?:inity)?)(?![\w.])/iy

/**
 * The same text with bare `nan`, `NaN`, `inf`, `-Infinity` … replaced by `null`. C's printf writes these when a
 * sensor has failed, which makes the whole message unreadable as JSON; its other fields are good. One pass, so that
 * a long hostile text costs no more than its length.
 */
export function withoutNaN(text: string): string {
  let out = ''
  let kept = 0
  let inString = false
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at)
    if (inString) {
      if (code === 0x5c) at++
      else if (code === 0x22) inString = false
      continue
    }
    if (code === 0x22) inString = true
    if (!STARTS.has(code)) continue
    NOT_A_NUMBER.lastIndex = at
    if (!NOT_A_NUMBER.test(text)) continue
    out += `${text.slice(kept, at)}null`
    kept = NOT_A_NUMBER.lastIndex
    at = kept - 1
  }
  return out + text.slice(kept)
}

/** First letters of the tokens above: + - i I n N. */
const STARTS: ReadonlySet<number> = new Set([0x2b, 0x2d, 0x49, 0x69, 0x4e, 0x6e])
