import { isUtf8 } from 'node:buffer'
import type { Arrival } from '../model/sample.js'

/**
 * One line of a capture (contract, section 4): NDJSON, a received message a line. `at` is the receipt time in epoch
 * seconds. A payload that is not UTF-8 is carried as base64 in `payload64`; `retain` is written only when true.
 */

/** Seconds; later than the year 5138, so what is larger was written in milliseconds. */
const AT_SECONDS_MAX = 1e11

/** The line for a message, with its line feed. */
export function captureLine(arrival: Arrival): string {
  const bytes = Buffer.from(arrival.payload.buffer, arrival.payload.byteOffset, arrival.payload.byteLength)
  // Valid UTF-8 comes back byte for byte from a string; anything else would not.
  const payload = isUtf8(bytes)
    ? `"payload":${JSON.stringify(bytes.toString('utf8'))}`
    : `"payload64":"${bytes.toString('base64')}"`
  const retain = arrival.retain ? ',"retain":true' : ''
  return `{"at":${arrival.at / 1000},"topic":${JSON.stringify(arrival.topic)},${payload}${retain}}\n`
}

/** What is wrong with a line, in words for the one who has to mend it. */
export type LineProblem = { readonly found: string; readonly expected: string }

/** The message of a line, or what is wrong with it. Keys that are not known are left alone. */
export function parseCaptureLine(line: string): Arrival | LineProblem {
  let value: unknown
  try {
    value = JSON.parse(line)
  } catch {
    return { found: shorten(line), expected: 'one whole JSON object on the line' }
  }
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    return { found: shorten(line), expected: 'a JSON object' }
  // Checked member by member below: a schema library here would be most of a replay's time.
  const { at, topic, payload, payload64, retain } = value as Readonly<Record<string, unknown>>
  if (typeof at !== 'number' || !(at >= 0)) return { found: `at: ${show(at)}`, expected: 'epoch seconds, 0 or more' }
  if (at > AT_SECONDS_MAX) return { found: `at: ${at}`, expected: 'epoch seconds (this looks like milliseconds)' }
  if (typeof topic !== 'string' || topic === '')
    return { found: `topic: ${show(topic)}`, expected: 'an MQTT topic, not empty' }
  if (retain !== undefined && typeof retain !== 'boolean')
    return { found: `retain: ${show(retain)}`, expected: 'true or false' }
  const bytes = payloadOf(payload, payload64)
  if (!(bytes instanceof Uint8Array)) return bytes
  return { at: Math.round(at * 1000), topic, payload: bytes, retain: retain === true }
}

function payloadOf(payload: unknown, payload64: unknown): Uint8Array | LineProblem {
  if ((payload === undefined) === (payload64 === undefined))
    return {
      found: payload === undefined ? 'no payload' : 'both payload and payload64',
      expected: 'either payload (text) or payload64 (base64)',
    }
  if (payload64 === undefined)
    return typeof payload === 'string'
      ? Buffer.from(payload, 'utf8')
      : { found: `payload: ${show(payload)}`, expected: 'a string' }
  // RFC 4648 section 4, padded: Buffer.from alone would skip over what it cannot read.
  if (
    typeof payload64 === 'string' &&
    /^(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$/.test(payload64)
  )
    return Buffer.from(payload64, 'base64')
  return { found: `payload64: ${show(payload64)}`, expected: 'base64 with padding (RFC 4648, section 4)' }
}

function show(value: unknown): string {
  return value === undefined ? 'missing' : shorten(JSON.stringify(value))
}

function shorten(text: string): string {
  return text.length <= 80 ? text : `${text.slice(0, 77)}...`
}
