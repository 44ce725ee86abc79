/**
 * Building blocks of the schema: each reads one kind of value as people write it, says what it is for in the JSON
 * Schema, and fails with `found`, `expected` and a hint instead of a library's sentence.
 */
import { z } from 'zod'
import { LIMITS } from '../model/limits.js'
import { type Bounds, readQuantity } from './quantity.js'
import { type Dimension, unitNames } from './units.js'

/** What our own checks hang on a zod issue; `issues.ts` turns it into a finding. */
export type IssueParams = {
  readonly found?: string
  readonly expected?: string
  readonly hint?: string | null
  readonly at?: 'key' | 'value'
}

type Context = { issues: unknown[] }

/** Notes a failure of our own making. */
export function fail(context: Context, input: unknown, message: string, params: IssueParams): typeof z.NEVER {
  context.issues.push({ code: 'custom', input, message, params })
  return z.NEVER
}

const PATTERN = '^\\s*[+-]?(\\d|\\.\\d).*[A-Za-z%°³3]\\s*$'

/** `"180 ft"` → SI number. */
export function quantity(dimension: Dimension, bounds: Bounds = {}) {
  const input = z.unknown().meta({
    type: 'string',
    pattern: PATTERN,
    description: `A ${dimension.replaceAll('-', ' ')} with its unit: ${unitNames(dimension).join(', ')}.`,
  })
  return input.transform((value, context) => {
    const read = readQuantity(value, dimension, bounds)
    return read.ok ? read.value : fail(context, value, read.message, { expected: read.expected, hint: read.hint })
  })
}

/** Degrees of latitude or longitude: the one quantity for which a bare number is common usage (RFC 8428: lat, lon). */
export function coordinate(limitDeg: number) {
  const input = z.unknown().meta({
    type: ['number', 'string'],
    description: `Decimal degrees, −${limitDeg} to ${limitDeg}; north and east are positive. "39.2 deg" or 39.2.`,
  })
  return input.transform((value, context) => {
    const text = typeof value === 'number' ? `${value} deg` : value
    const read = readQuantity(text, 'angle', { min: -limitDeg, max: limitDeg })
    return read.ok ? read.value : fail(context, value, read.message, { expected: read.expected, hint: read.hint })
  })
}

/** A share or a factor: a plain number, or per cent. */
export function ratio() {
  const input = z
    .unknown()
    .meta({ type: ['number', 'string'], description: 'A plain number, or per cent: 0.05 or "5 %".' })
  return input.transform((value, context): number => {
    if (typeof value === 'number' && Number.isFinite(value) && value >= 0) return value
    const read = readQuantity(typeof value === 'number' ? '' : value, 'share', { min: 0 })
    const expected = 'a number from 0 on, or per cent: 0.05 or "5 %"'
    return read.ok ? read.value : fail(context, value, 'is no ratio', { expected })
  })
}

/** A section: known keys only. The message lists them, so that a slip can be met with the nearest. */
export function section<Shape extends z.core.$ZodLooseShape>(shape: Shape) {
  const known = Object.keys(shape).join(', ')
  return z.strictObject(shape, { error: (issue) => (issue.code === 'unrecognized_keys' ? known : undefined) })
}

/** Names of sites, boards, ways and people: they become parts of topics, addresses and keys. */
export const ID = /^[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?$/
export const ID_EXPECTED = 'small letters, digits and dashes, at most 40, such as "tank-board"'

export function id(what: string) {
  return z
    .string()
    .regex(ID, { error: `is no ${what}: expected ${ID_EXPECTED}` })
    .describe(`The ${what}: ${ID_EXPECTED}.`)
}

const TOPIC_BYTES = new TextEncoder()

/** A topic to publish or receive on: MQTT 3.1.1, section 4.7, without wildcards. */
export function topic() {
  const input = z.string().meta({ pattern: '^[^$+#][^+#]*$', description: 'An MQTT topic, without + and #.' })
  return input.transform((text, context) => {
    const why = topicFault(text)
    return why === null ? text : fail(context, text, why, { expected: 'a topic such as "water/juniper/tank-board"' })
  })
}

function topicFault(text: string): string | null {
  if (text === '') return 'is empty'
  if (/[+#]/.test(text)) return 'has a wildcard'
  if (/\p{Cc}/u.test(text)) return 'has a control character'
  if (text.startsWith('$')) return "begins with $, which is the broker's own"
  if (TOPIC_BYTES.encode(text).length > LIMITS.topicBytesMax) return `is longer than ${LIMITS.topicBytesMax} bytes`
  return null
}

/** The path of a file that must be there; read or checked by `files.ts`, relative to the configuration's folder. */
export function filePath(what: string) {
  return z.string().min(1).describe(`${what} Relative to the folder of this file.`)
}

/** An address with one of these schemes, without a password inside. */
export function address(schemes: readonly string[], what: string) {
  const input = z.string().meta({ pattern: `^(${schemes.join('|')})://`, description: what })
  return input.transform((text, context) => {
    const expected = `an address that begins with ${schemes.map((scheme) => `${scheme}://`).join(' or ')}`
    // What stands in such an address must not be repeated: it may be a password.
    if (text.includes('@')) {
      const hint = 'secrets are never in this file: use username and password_file'
      const found = 'an address with an @'
      return fail(context, text, 'has a name or password inside', { found, expected, hint })
    }
    if (!URL.canParse(text)) return fail(context, text, 'is no address', { expected })
    const url = new URL(text)
    if (!schemes.includes(url.protocol.slice(0, -1)) || url.hostname === '') {
      return fail(context, text, 'is no address of the right kind', { found: `${url.protocol}//…`, expected })
    }
    return text
  })
}

const MINUTES_A_DAY = 1440

/** `07:30` → minutes after local midnight. */
export function minuteOfDay(text: string): number | null {
  const match = /^([01]?\d|2[0-3]):([0-5]\d)$/.exec(text.trim())
  return match === null ? null : Number(match[1]) * 60 + Number(match[2])
}

/** `"07:30"`. */
export function timeOfDay() {
  const input = z.string().meta({ pattern: '^([01]?\\d|2[0-3]):[0-5]\\d$', description: 'A time of day, "07:30".' })
  return input.transform((text, context) => {
    const minute = minuteOfDay(text)
    return minute ?? fail(context, text, 'is no time of day', { expected: 'hours and minutes, such as "07:30"' })
  })
}

/** `"22:00-07:00"` → [1320, 420]. */
export function span() {
  const description = 'From one time of day to another, over midnight if need be: "22:00-07:00".'
  return z
    .string()
    .meta({ pattern: '^\\d?\\d:\\d\\d\\s*-\\s*\\d?\\d:\\d\\d$', description })
    .transform((text, context): readonly [number, number] => {
      const parts = text.split('-')
      const from = minuteOfDay(parts[0] ?? '')
      const to = minuteOfDay(parts[1] ?? '')
      const expected = 'two times of day, such as "22:00-07:00"'
      if (parts.length !== 2 || from === null || to === null) {
        return fail(context, text, 'is no span of the day', { expected })
      }
      if (from === to) return fail(context, text, 'begins and ends at the same time', { expected })
      return [from, to % MINUTES_A_DAY]
    })
}
