/** The schema of alarms' settings and of who is told, and how. */
import { z } from 'zod'
import { ALARM_IDS, type AlarmId, PRIORITIES } from '../model/alarm.js'
import { ALARM_SPECS, type AlarmSpec, type SettingKind } from '../model/alarm-settings.js'
import { address, fail, filePath, ID, ID_EXPECTED, quantity, ratio, section, span, timeOfDay, topic } from './fields.js'

const delay = () => quantity('duration', { min: 0, max: 7 * 86_400 })

/** A number of an alarm, by its kind: the names, kinds and meanings are those of `ALARM_SPECS`. */
const NUMBERS: Readonly<Record<SettingKind, () => z.ZodType<number>>> = {
  duration: delay,
  ratio,
  count: () => z.int().min(0).max(1000),
  temperature: () => quantity('temperature', { min: -60, max: 100 }),
  volume: () => quantity('volume', { min: 0 }),
}

function alarm(spec: AlarmSpec) {
  const { numbers } = spec
  return section({
    enabled: z.boolean().optional(),
    priority: z.enum(PRIORITIES).optional().describe(`Default: ${spec.priority}.`),
    on_delay: delay().optional().describe('How long it must hold before it is raised.'),
    off_delay: delay().optional().describe('How long it must be over before it clears.'),
    ...Object.fromEntries(
      Object.entries(numbers).map(([name, each]) => [name, NUMBERS[each.kind]().optional().describe(each.meaning)]),
    ),
  })
}

const alarmShape = Object.fromEntries(
  ALARM_IDS.map((id): [AlarmId, z.ZodOptional<ReturnType<typeof alarm>>] => [id, alarm(ALARM_SPECS[id]).optional()]),
) as Record<AlarmId, z.ZodOptional<ReturnType<typeof alarm>>>

export const alarmsSchema = section(alarmShape).prefault({}).describe('Settings by alarm; docs/alarms.md lists them.')

const mailbox = () =>
  z
    .string()
    .max(320)
    .regex(/^(?:[^<>\r\n]*<[^\s@<>]+@[^\s@<>]+>|[^\s@<>]+@[^\s@<>]+)$/, {
      error: 'is no mail address: expected "name@example.org" or "Name <name@example.org>"',
    })

const smtp = section({
  host: z.string().min(1).max(253),
  port: z.int().min(1).max(65_535).optional().describe('Default: 465 if secure, else 587.'),
  secure: z.boolean().default(true).describe('TLS from the first byte; false: STARTTLS where offered.'),
  username: z.string().min(1).optional(),
  password_file: filePath('The password.').optional(),
})

const email = section({
  kind: z.literal('email'),
  smtp,
  from: mailbox(),
  to: mailbox(),
  short: z.boolean().default(false).describe('160 characters of plain text, for a text-message gateway.'),
})
const webhook = section({
  kind: z.literal('webhook'),
  url: address(['https', 'http'], 'Where messages are posted.'),
  secret_file: filePath('Key of the signature.'),
})
const mqttWay = section({ kind: z.literal('mqtt'), topic: topic() })
const webPush = section({
  kind: z.literal('web-push'),
  contact: z
    .string()
    .regex(/^[^@\s:]+@[^@\s]+$/)
    .default('owner@example.org')
    .describe('A mail address by which a push service can ask about what we send.'),
})

const name = (what: string) =>
  z
    .string()
    .meta({ pattern: ID.source })
    .check((context) => {
      if (ID.test(context.value)) return
      fail(context, context.value, `is no ${what}`, {
        found: JSON.stringify(context.value),
        expected: ID_EXPECTED,
        at: 'key',
      })
    })

const person = section({
  name: name('name of a person'),
  ways: z.array(z.string()).default([]).describe('Names of ways, below.'),
  quiet: span().optional().describe('Only critical alarms are told then; the rest waits.'),
  least: z.enum(PRIORITIES).default('medium').describe('Less urgent alarms are not told to this person.'),
})

export const tellSchema = section({
  people: z.array(person).max(50).default([]),
  ways: z
    .record(name('name of a way'), z.discriminatedUnion('kind', [email, webhook, mqttWay, webPush]))
    .default({})
    .describe('Ways of telling, by name.'),
  escalate: section({
    after: quantity('duration', { min: 60, max: 7 * 86_400 }),
    to: z.array(z.string()).min(1),
  })
    .optional()
    .describe('Who is told when nobody has acknowledged.'),
  repeat: section({
    after: quantity('duration', { min: 600, max: 7 * 86_400 })
      .default(3_600)
      .describe('For critical alarms.'),
    every: quantity('duration', { min: 3_600, max: 30 * 86_400 })
      .default(86_400)
      .describe('After that, and for high ones.'),
    most: z.int().min(0).max(50).default(7).describe('At most so many times for one alarm; 0: never.'),
  })
    .prefault({})
    .describe('When a high or critical alarm that nobody has acknowledged is told again.'),
  digest: section({ at: timeOfDay().prefault('07:30'), to: z.array(z.string()).min(1) })
    .optional()
    .describe('What can wait, once a day.'),
  report: section({
    monthly: z.array(z.string()).default([]).describe('Who gets the month on one page, on its first day after.'),
    weekly: z.array(z.string()).default([]).describe('Who gets the week, on Monday.'),
  }).prefault({}),
  self_test: z.enum(['monthly', 'never']).default('monthly').describe('A marked test through every way.'),
}).describe('Who is told, and how.')
