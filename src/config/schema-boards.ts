/** The schema of the boards and what each signal is called on the wire. */
import { z } from 'zod'
import { ROLE_IDS, roleOfKey } from '../model/roles.js'
import { fail, ID, ID_EXPECTED, quantity, section, topic } from './fields.js'
import { meant, oneOf } from './nearest.js'

/** RFC 8428, section 4.5.1: the characters of a name, the first a letter or digit. */
const NAME = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/

const LABEL = '[a-z0-9](?:[a-z0-9-]{0,38}[a-z0-9])?'
const KEY_PATTERN = `^(?:${ROLE_IDS.join('|')})(?:\\.${LABEL})?$`
const KEY = new RegExp(KEY_PATTERN)

/** `role` or `role.label`. */
export function isSignalKey(text: string): boolean {
  return KEY.test(text)
}

const signalKey = z
  .string()
  .meta({ pattern: KEY_PATTERN })
  .check((context) => {
    const key = context.value
    if (isSignalKey(key)) return
    const known = roleOfKey(key) !== null
    fail(context, key, known ? 'has a label that cannot be used' : 'is no role', {
      found: JSON.stringify(key),
      expected: known ? `role.label, the label of ${ID_EXPECTED}` : `${oneOf(ROLE_IDS, key)}, or role.label`,
      hint: known ? null : meant(key, ROLE_IDS),
      at: 'key',
    })
  })

const wireName = () =>
  z.string().max(200).regex(NAME, {
    error: 'is no name: expected letters, digits and - : . / _ beginning with a letter or digit (RFC 8428)',
  })

/** Limits and accuracy carry the unit of the role, which is known only in `build-boards.ts`. */
const ofRole = (what: string) =>
  z
    .unknown()
    .meta({ type: 'string', description: `${what} A quantity in a unit of this role.` })
    .optional()

const POINTER = /^(?:\/(?:[^~/]|~[01])*)*$/

const signalObject = section({
  name: wireName().optional().describe('The SenML name that means this signal; default: the role.'),
  topic: topic().optional().describe("Topic of this signal; default: the board's own."),
  decode: z.enum(['senml', 'number', 'json']).default('senml').describe('How the payload is written.'),
  pointer: z
    .string()
    .regex(POINTER, { error: 'is no JSON pointer: expected "/path/to/value" (RFC 6901)' })
    .optional()
    .describe('Where the value stands in a JSON payload (RFC 6901).'),
  unit: z.string().optional().describe('Unit of the payload where it names none; default: the SI unit of the role.'),
  scale: z.number().optional().describe('value = payload × scale + offset, in `unit`.'),
  offset: z.number().optional(),
  table: z
    .array(z.tuple([z.number(), z.unknown().meta({ type: ['string', 'number'] })]))
    .min(2)
    .max(200)
    .optional()
    .describe('Calibration points [payload, quantity], rising in payload; between them a straight line.'),
  true_when: z
    .union([z.string(), z.number(), z.boolean(), z.array(z.union([z.string(), z.number(), z.boolean()])).min(1)])
    .optional()
    .describe('What the payload says when a contact is true (a probe wet).'),
  low: ofRole('Below this the sensor is not believed.'),
  high: ofRole('Above this the sensor is not believed.'),
  accuracy: ofRole('The ± of the data sheet.'),
  sentinels: z.array(z.number()).max(20).default([]).describe('Further values that mean that the sensor has failed.'),
}).meta({ id: 'signal' })

const signal = z.union([wireName(), signalObject]).describe('How this board says it: a name, or a section.')

const board = section({
  topic: topic().optional().describe('Default: water/<site id>/<board id>.'),
  expect_every: quantity('duration', { above: 0, max: 86_400 }).default(30),
  signals: z.record(signalKey, signal).default({}),
})

const boardId = z
  .string()
  .meta({ pattern: ID.source })
  .check((context) => {
    if (ID.test(context.value)) return
    fail(context, context.value, 'is no id of a board', {
      found: JSON.stringify(context.value),
      expected: ID_EXPECTED,
      at: 'key',
    })
  })

export const boardsSchema = z.record(boardId, board).default({}).describe('Each is one microcontroller.')

export type BoardsInput = z.output<typeof boardsSchema>
export type SignalInput = z.output<typeof signalObject>
