/** The body of `GET /api/alarms/settings`: what each alarm goes by, the default beside what the configuration says. */
import { z } from 'zod'
import { ALARM_DEFINITIONS } from '../../judge/alarms/index.js'
import { ALARM_SPECS, type SettingSpec } from '../../model/alarm-settings.js'
import { ALARM_IDS, PRIORITIES } from '../../model/alarm.js'
import type { SiteSettings } from '../../model/settings.js'

const Setting = z.object({
  name: z.string().describe('As it is written in the configuration'),
  kind: z.enum(['duration', 'ratio', 'count', 'temperature', 'volume']).describe('SI: s, a ratio, pieces, Cel, l'),
  meaning: z.string(),
  default: z.number(),
  value: z.number(),
  configured: z.boolean(),
})

export const AlarmSettingsBody = z
  .object({
    site: z.string(),
    alarms: z.array(
      z.object({
        id: z.enum(ALARM_IDS),
        meaning: z.string().describe('Holds when'),
        needs: z.string(),
        enabled: z.boolean(),
        priority: z.enum(PRIORITIES),
        priority_default: z.enum(PRIORITIES),
        settings: z.array(Setting),
      }),
    ),
  })
  .meta({ id: 'AlarmSettings' })
export type AlarmSettingsBody = z.infer<typeof AlarmSettingsBody>

const ON_DELAY = 'The condition must hold this long before the alarm is raised.'
const OFF_DELAY = 'It must be gone this long before the alarm returns to normal.'

function setting(name: string, spec: SettingSpec, set: number | null | undefined): z.infer<typeof Setting> {
  const { kind, meaning } = spec
  return { name, kind, meaning, default: spec.default, value: set ?? spec.default, configured: set != null }
}

export function alarmSettingsBody(site: SiteSettings): AlarmSettingsBody {
  return {
    site: site.id,
    alarms: ALARM_DEFINITIONS.map(({ id, meaning, needs }) => {
      const spec = ALARM_SPECS[id]
      const set = site.alarms[id]
      const delay = (meaning: string, seconds: number): SettingSpec => ({ kind: 'duration', default: seconds, meaning })
      const numbers: Readonly<Record<string, SettingSpec>> = spec.numbers
      return {
        id,
        meaning,
        needs,
        enabled: set?.enabled ?? true,
        priority: set?.priority ?? spec.priority,
        priority_default: spec.priority,
        settings: [
          setting('on_delay', delay(ON_DELAY, spec.onDelayS), set?.onDelayS),
          setting('off_delay', delay(OFF_DELAY, spec.offDelayS), set?.offDelayS),
          ...Object.entries(numbers).map(([name, one]) => setting(name, one, set?.numbers[name])),
        ],
      }
    }),
  }
}
