/** The body of `GET /api/now`: everything that the first page shows at a glance. */
import { z } from 'zod'
import { AlarmBody } from './alarms.js'
import { NumberOrNull, Time, TimeOrNull } from './common.js'
import { PowerBody } from './power.js'

const BoolOrNull = z.boolean().nullable()

export const AnswerBody = z.object({
  verdict: z
    .enum(['well', 'look', 'act', 'not-known'])
    .describe('well: nothing asks for anybody; look: something medium or low; act: critical or high; not-known'),
  sentence: z.string(),
  detail: z.string(),
})

const TankBody = z.object({
  outline: z.enum(['box', 'upright-cylinder', 'lying-cylinder', 'table']),
  width_m: NumberOrNull.describe('As seen from the side (a lying cylinder: from its end)'),
  height_m: z.number(),
  low_mark_m: z.number(),
  high_mark_m: z.number(),
  full_m: z.number(),
  reserve_m: NumberOrNull,
  reserve_l: NumberOrNull,
  capacity_l: z.number(),
})

const UsualBody = z.object({ value: z.number(), sd: z.number(), fills: z.number() }).nullable()

const WaterBody = z.object({
  level_m: NumberOrNull,
  level_sd_m: NumberOrNull,
  volume_l: NumberOrNull,
  volume_sd_l: NumberOrNull,
  reckoned: z.boolean().describe('volume_l follows from the last mark and the usual draw, it is not measured'),
  low_wet: BoolOrNull,
  high_wet: BoolOrNull,
  full_wet: BoolOrNull,
  called_since: TimeOrNull,
  arriving: BoolOrNull.describe('Whether water was seen to arrive lately in this run; null: cannot be told'),
  draw_l_per_h: NumberOrNull,
  hours_left: NumberOrNull.describe('How long the water lasts, at the present use and the usual of the hours to come'),
  hours_left_low: NumberOrNull.describe('The same if more is used than usual, by one sd of the days'),
  hours_left_high: NumberOrNull,
  used_today_l: NumberOrNull,
  used_yesterday_l: NumberOrNull,
  usual_day_l: z.object({ value: z.number(), sd: z.number(), days: z.number() }).nullable(),
  usual_now_l_per_h: NumberOrNull.describe('Usual draw in this hour of the week'),
  present_l_per_h: NumberOrNull.describe('Drawn in the last 3 h; null while the pump runs'),
  quiet_from_h: z.number().describe('First hour of the day of the five in which least is drawn'),
  quiet_l_per_h: NumberOrNull.describe('Usual loss in them'),
  turnover_days: NumberOrNull.describe('Days in which a full tank was drawn once'),
  turnover_at_least: z.boolean().describe('turnover_days is as far back as can be counted'),
})

const PumpBody = z.object({
  known: z.boolean(),
  running: z.boolean(),
  since: TimeOrNull,
  ran_s: z.number(),
  current_a: NumberOrNull,
  usual_current_a: UsualBody,
  usual_flow_l_min: UsualBody,
  expected_fill_s: NumberOrNull,
  last_end_at: TimeOrNull,
  last_end: z.string().nullable(),
  resting_until: TimeOrNull,
})

const BatteryBody = z.object({
  chemistry: z.string().nullable(),
  nominal_v: NumberOrNull,
  capacity_ah: NumberOrNull,
  voltage_v: NumberOrNull,
  loaded: z.boolean(),
  rest_low_v: NumberOrNull,
  loaded_low_v: NumberOrNull,
  cut_off_v: NumberOrNull,
  hours_to_cut_off: NumberOrNull,
  temperature_c: NumberOrNull,
})

const LineBody = z.object({
  name: z.string(),
  temperature_c: NumberOrNull,
  modelled: z.boolean(),
  frozen_since: TimeOrNull,
  hours_to_zero: NumberOrNull,
})

const BoardBody = z.object({
  id: z.string(),
  last_heard: TimeOrNull,
  expect_every_s: z.number(),
  quiet: z.boolean().describe('Not heard for several of its expected intervals'),
})

const LatestBody = z.object({
  key: z.string(),
  role: z.string(),
  board: z.string(),
  unit: z.string(),
  at: TimeOrNull,
  value: NumberOrNull,
  failed: z.boolean().describe('The sensor said that it has failed'),
})

const WellBody = z
  .object({
    level_m: NumberOrNull,
    drawdown_m: NumberOrNull.describe('Since the run began'),
    capacity_l_min_m: NumberOrNull.describe('Litres a minute for each metre of drawdown, ten minutes into a run'),
    usual_capacity_l_min_m: NumberOrNull,
    capacity_runs: z.number(),
    recovered: NumberOrNull.describe('Share of the drawdown that was back ten minutes after the latest stop'),
  })
  .describe('Where the well has a level sensor of its own')

export const NowBody = z
  .object({
    at: Time,
    site: z.object({ id: z.string(), name: z.string(), timezone: z.string(), units: z.enum(['us', 'si']) }),
    sites: z.array(z.object({ id: z.string(), name: z.string() })),
    you: z.object({ name: z.string(), role: z.enum(['owner', 'viewer']), signed_in: z.boolean() }),
    answer: AnswerBody,
    looked_at: TimeOrNull.describe('The moment of the data, not of the request'),
    last_heard: TimeOrNull,
    learning: z.object({ learning: z.boolean(), complete_fills: z.number(), needed_fills: z.number() }),
    tank: TankBody.nullable(),
    water: WaterBody.nullable(),
    pump: PumpBody.nullable(),
    well: WellBody.nullable(),
    battery: BatteryBody.nullable(),
    power: PowerBody.nullable(),
    sky: z.object({ air_c: NumberOrNull, humidity: NumberOrNull, panel_v: NumberOrNull, panel_a: NumberOrNull }),
    occupied: BoolOrNull,
    lines: z.array(LineBody),
    boards: z.array(BoardBody),
    suspects: z.array(z.object({ key: z.string(), kind: z.string(), since: Time })),
    latest: z.array(LatestBody),
    alarms: z.array(AlarmBody),
    modes: z.object({ away: z.boolean(), winterized: z.boolean(), maintenance_until: TimeOrNull }),
    ways: z.array(z.object({ way: z.string(), kind: z.string(), proved_at: TimeOrNull, error: z.string().nullable() })),
  })
  .meta({ id: 'Now' })
export type NowBody = z.infer<typeof NowBody>
