import { z } from 'zod'
import { ALARM_IDS, ALARM_STATES, type Alarm, PRIORITIES, QUANTITY_KINDS } from '../../model/alarm.js'
import { iso, isoOrNull, numberOrNull, Time, TimeOrNull } from './common.js'

/** SI unit of each quantity of the evidence. */
export const EvidenceBody = z.object({
  label: z.string(),
  quantity: z
    .enum(QUANTITY_KINDS)
    .describe('SI: m, m, l, l/min, V, A, W, Wh, Wh/l, degrees Celsius, s, a ratio, a count — in the order of the list'),
  value: z.number().nullable(),
  usual: z.number().nullable(),
})

export const AlarmBody = z
  .object({
    key: z.string().describe('id:subject, the address of the alarm within its site'),
    id: z.enum(ALARM_IDS),
    subject: z.string(),
    priority: z.enum(PRIORITIES),
    state: z.enum(ALARM_STATES).describe('Words of ANSI/ISA-18.2'),
    since: Time.describe('When the condition began'),
    raised: Time,
    cleared: TimeOrNull,
    cause: z.string(),
    evidence: z.array(EvidenceBody),
    title: z.string(),
    what: z.string(),
    causes: z.array(z.string()),
    action: z.string(),
    if_ignored: z.string(),
    caution: z.string().nullable(),
    time_left: z.string().nullable(),
    acknowledged_by: z.string().nullable(),
    acknowledged_at: TimeOrNull,
    shelved_until: TimeOrNull,
    shelve_reason: z.string().nullable(),
    explained_by: z.string().nullable().describe('Key of the alarm that explains this one'),
    raises_in_day: z.number(),
  })
  .meta({ id: 'Alarm' })
export type AlarmBody = z.infer<typeof AlarmBody>

export function alarmBody(alarm: Alarm): AlarmBody {
  const { words } = alarm
  return {
    key: alarm.key,
    id: alarm.id,
    subject: alarm.subject,
    priority: alarm.priority,
    state: alarm.state,
    since: iso(alarm.since),
    raised: iso(alarm.raised),
    cleared: isoOrNull(alarm.cleared),
    cause: alarm.cause,
    evidence: alarm.evidence.map((one) => ({
      label: one.label,
      quantity: one.quantity,
      value: numberOrNull(one.value),
      usual: numberOrNull(one.usual),
    })),
    title: words.title,
    what: words.what,
    causes: [...words.causes],
    action: words.action,
    if_ignored: words.ifIgnored,
    caution: words.caution,
    time_left: words.timeLeft,
    acknowledged_by: alarm.acknowledgedBy,
    acknowledged_at: isoOrNull(alarm.acknowledgedAt),
    shelved_until: isoOrNull(alarm.shelvedUntil),
    shelve_reason: alarm.shelveReason,
    explained_by: alarm.explainedBy,
    raises_in_day: alarm.raisesInDay,
  }
}
