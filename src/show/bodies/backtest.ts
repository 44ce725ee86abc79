/** `POST /api/backtest`: what is asked, checked against what the alarm goes by, and the answer. */
import { z } from 'zod'
import { ALARM_IDS, type AlarmId, PRIORITIES } from '../../model/alarm.js'
import { ALARM_SPECS, type SettingKind, type SettingSpec } from '../../model/alarm-settings.js'
import type { BacktestAnswer } from '../../model/backtest.js'
import { ApiError } from '../errors.js'
import { iso, isoOrNull, Time, TimeOrNull } from './common.js'

export const BacktestAsked = z.strictObject({
  alarm: z.enum(ALARM_IDS),
  settings: z
    .record(z.string().max(40), z.number())
    .describe('By the names of GET /api/alarms/settings, in SI; what is not named stays as configured'),
})

export const BacktestBody = z
  .object({
    site: z.string(),
    alarm: z.enum(ALARM_IDS),
    from: Time,
    to: Time,
    run_from: Time.describe('Where both runs began'),
    learned: z.boolean().describe('Whether they began with what had been learned by then'),
    alarms: z.object({ configured: z.number(), proposed: z.number(), same: z.number() }),
    messages: z.object({ configured: z.number(), proposed: z.number() }),
    changes: z.array(
      z.object({
        change: z.enum(['added', 'gone', 'earlier', 'later', 'priority', 'told', 'grouped']),
        key: z.string(),
        title: z.string(),
        priority: z.enum(PRIORITIES),
        configured: TimeOrNull.describe('When it is raised as configured'),
        proposed: TimeOrNull.describe('When it is raised with the other settings'),
      }),
    ),
    changes_in_all: z.number(),
  })
  .meta({ id: 'Backtest' })
export type BacktestBody = z.infer<typeof BacktestBody>

/** The ranges of the configuration file (config/schema-tell.ts). */
const RANGES: Readonly<Record<SettingKind, readonly [number, number]>> = {
  duration: [0, 7 * 86_400],
  ratio: [0, 100],
  count: [0, 1_000],
  temperature: [-60, 100],
  volume: [0, 1e9],
}

/** Throws 400 that names the setting, or the names that there are. */
export function checkSettings(alarm: AlarmId, settings: Readonly<Record<string, number>>): void {
  const numbers: Readonly<Record<string, SettingSpec>> = ALARM_SPECS[alarm].numbers
  const names = ['on_delay', 'off_delay', ...Object.keys(numbers)]
  if (Object.keys(settings).length === 0) {
    throw new ApiError(400, 'No setting is given', 'settings', names.join(', '))
  }
  for (const [name, value] of Object.entries(settings)) {
    if (!names.includes(name)) throw new ApiError(400, `${alarm} has no setting "${name}"`, name, names.join(', '))
    const kind = (Object.hasOwn(numbers, name) ? numbers[name]?.kind : undefined) ?? 'duration'
    const [low, high] = RANGES[kind]
    if (value < low || value > high || (kind === 'count' && !Number.isInteger(value))) {
      const whole = kind === 'count' ? 'a whole number' : 'a number'
      throw new ApiError(400, `${name} is ${value}`, name, `${whole} from ${low} to ${high}`)
    }
  }
}

export function backtestBody(site: string, alarm: AlarmId, answer: BacktestAnswer): BacktestBody {
  const { from, to, runFrom, learned, alarms, messages, changes, changesInAll } = answer
  return {
    site,
    alarm,
    from: iso(from),
    to: iso(to),
    run_from: iso(runFrom),
    learned,
    alarms,
    messages,
    changes: changes.map((one) => ({
      ...one,
      configured: isoOrNull(one.configured),
      proposed: isoOrNull(one.proposed),
    })),
    changes_in_all: changesInAll,
  }
}
