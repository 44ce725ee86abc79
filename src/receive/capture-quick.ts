/**
 * The usual line of a capture, read straight from its bytes: time, topic, payload, in that order and without blanks, as
 * `captureLine` writes it. Millions of them are read in a replay, and a JSON parser would be a good part of its time.
 * Whatever is not quite like that is left to `parseCaptureLine`.
 */
import type { Arrival } from '../model/sample.js'

const AT = Buffer.from('{"at":')
const TOPIC = Buffer.from(',"topic":"')
const PAYLOAD = Buffer.from('","payload":"')

const QUOTE = 0x22
const BACKSLASH = 0x5c
const SLASH = 0x2f
const POINT = 0x2e
const CLOSE = 0x7d
const SPACE = 0x20

/** Whole numbers of so many digits are exact in a double, and so are these powers of ten. */
const DIGITS_MAX = 15
const TENS = Array.from({ length: DIGITS_MAX + 1 }, (_, power) => 10 ** power)

/** Topics that were met lately; a site has a few. */
const TOPICS_MAX = 32

/** Later than the year 2286 is left to the other reader, which says what is wrong with it. */
const SECONDS_DIGITS_MAX = 10

/** Topics met so far, from one buffer of lines to the next. */
export type Topics = { readonly bytes: Uint8Array; readonly text: string }[]

export class QuickLines {
  readonly #bytes: Buffer
  /** Payloads with their escapes undone, one after the other: never longer than the lines they come from. */
  readonly #payloads: Buffer
  readonly #topics: Topics
  #filled = 0

  /**
   * @param bytes whole lines, known to be UTF-8
   * @param topics kept by the caller from one buffer to the next
   */
  constructor(bytes: Buffer, topics: Topics) {
    this.#bytes = bytes
    this.#payloads = Buffer.allocUnsafe(bytes.length)
    this.#topics = topics
  }

  /** The message of the line in [from, to), or null where it is not of the usual form. */
  read(from: number, to: number): Arrival | null {
    const bytes = this.#bytes
    if (!begins(bytes, from, AT)) return null
    let at = from + AT.length
    let whole = 0
    let point = -1
    const first = at
    for (; at < to; at++) {
      const byte = bytes[at] ?? 0
      if (byte >= 0x30 && byte <= 0x39) whole = whole * 10 + (byte - 0x30)
      else if (byte === POINT && point < 0) point = at
      else break
    }
    const before = (point < 0 ? at : point) - first
    const after = point < 0 ? 0 : at - point - 1
    if (before < 2 || before > SECONDS_DIGITS_MAX || before + after > DIGITS_MAX) return null
    if (bytes[first] === 0x30 || point === at - 1) return null
    if (!begins(bytes, at, TOPIC)) return null
    const topicFrom = at + TOPIC.length
    const topicTo = plainEnd(bytes, topicFrom, to)
    if (topicTo <= topicFrom || !begins(bytes, topicTo, PAYLOAD)) return null
    const payload = this.#payload(topicTo + PAYLOAD.length, to)
    if (payload === null) return null
    const seconds = whole / (TENS[after] ?? 1)
    return { at: Math.round(seconds * 1000), topic: this.#topic(topicFrom, topicTo), payload, retain: false }
  }

  #payload(from: number, to: number): Uint8Array | null {
    const bytes = this.#bytes
    const out = this.#payloads
    const start = this.#filled
    let end = start
    let at = from
    for (; at < to; at++) {
      let byte = bytes[at] ?? 0
      if (byte === QUOTE) break
      if (byte < SPACE) return null
      if (byte === BACKSLASH) {
        byte = bytes[++at] ?? 0
        if (byte !== QUOTE && byte !== BACKSLASH && byte !== SLASH) return null
      }
      out[end++] = byte
    }
    if (at !== to - 2 || bytes[at + 1] !== CLOSE) return null
    this.#filled = end
    return out.subarray(start, end)
  }

  #topic(from: number, to: number): string {
    const bytes = this.#bytes
    for (const known of this.#topics) {
      if (known.bytes.length === to - from && begins(bytes, from, known.bytes)) return known.text
    }
    const text = bytes.toString('utf8', from, to)
    if (this.#topics.length < TOPICS_MAX) this.#topics.push({ bytes: Uint8Array.from(bytes.subarray(from, to)), text })
    return text
  }
}

function begins(bytes: Uint8Array, at: number, expected: Uint8Array): boolean {
  for (let i = 0; i < expected.length; i++) if (bytes[at + i] !== expected[i]) return false
  return true
}

/** Index of the quote that ends a string without escapes; −1 where there is an escape or a control character. */
function plainEnd(bytes: Uint8Array, from: number, to: number): number {
  for (let at = from; at < to; at++) {
    const byte = bytes[at] ?? 0
    if (byte === QUOTE) return at
    if (byte === BACKSLASH || byte < SPACE) return -1
  }
  return -1
}
