/** Fills, days, the service log and what was refused. */
import type { BrokerRefusal } from '../source.js'
import { z } from 'zod'
import { type Day, END_REASONS, type FillCycle } from '../../model/fill.js'
import type { JournalEntry } from '../../model/modes.js'
import { REFUSALS } from '../../model/sample.js'
import type { AsideMessage, RefusalCount } from '../source.js'
import { iso, NumberOrNull, numberOrNull, sdOf, Time, centreOf } from './common.js'

export const CycleBody = z
  .object({
    start: Time,
    end: Time,
    duration_s: z.number(),
    volume_l: NumberOrNull.describe('What the pump delivered, draw during the fill included'),
    volume_sd_l: NumberOrNull,
    energy_wh: NumberOrNull,
    energy_sd_wh: NumberOrNull,
    flow_l_min: NumberOrNull,
    flow_sd_l_min: NumberOrNull,
    wh_per_l: NumberOrNull,
    wh_per_l_sd: NumberOrNull,
    current_mean_a: NumberOrNull,
    voltage_mean_v: NumberOrNull,
    voltage_min_v: NumberOrNull,
    level_start_m: NumberOrNull,
    level_end_m: NumberOrNull,
    first_rise_s: NumberOrNull,
    end_reason: z.enum(END_REASONS),
    complete: z.boolean().describe('False where a gap or a fault makes the figures unfit for trends'),
  })
  .meta({ id: 'Cycle' })
export type CycleBody = z.infer<typeof CycleBody>

export function cycleBody(cycle: FillCycle): CycleBody {
  return {
    start: iso(cycle.start),
    end: iso(cycle.end),
    duration_s: cycle.durationS,
    volume_l: centreOf(cycle.volumeL),
    volume_sd_l: sdOf(cycle.volumeL),
    energy_wh: centreOf(cycle.energyWh),
    energy_sd_wh: sdOf(cycle.energyWh),
    flow_l_min: centreOf(cycle.flowLMin),
    flow_sd_l_min: sdOf(cycle.flowLMin),
    wh_per_l: centreOf(cycle.whPerL),
    wh_per_l_sd: sdOf(cycle.whPerL),
    current_mean_a: numberOrNull(cycle.currentMeanA),
    voltage_mean_v: numberOrNull(cycle.voltageMeanV),
    voltage_min_v: numberOrNull(cycle.voltageMinV),
    level_start_m: numberOrNull(cycle.levelStartM),
    level_end_m: numberOrNull(cycle.levelEndM),
    first_rise_s: numberOrNull(cycle.firstRiseS),
    end_reason: cycle.endReason,
    complete: cycle.complete,
  }
}

export const DayBody = z
  .object({
    date: z.iso.date(),
    start: Time,
    end: Time,
    pumped_l: NumberOrNull,
    pumped_sd_l: NumberOrNull,
    used_l: NumberOrNull,
    used_sd_l: NumberOrNull,
    fills: z.number(),
    run_s: z.number(),
    pump_wh: NumberOrNull,
    pump_sd_wh: NumberOrNull,
    wh_per_l: NumberOrNull,
    wh_per_l_sd: NumberOrNull,
    battery_min_v: NumberOrNull,
    battery_max_v: NumberOrNull,
    harvest_wh: NumberOrNull,
    air_min_c: NumberOrNull,
    air_max_c: NumberOrNull,
    covered: z.number().describe('Share of the day with data, 0 to 1'),
  })
  .meta({ id: 'Day' })
export type DayBody = z.infer<typeof DayBody>

export function dayBody(day: Day): DayBody {
  return {
    date: day.date,
    start: iso(day.start),
    end: iso(day.end),
    pumped_l: centreOf(day.pumpedL),
    pumped_sd_l: sdOf(day.pumpedL),
    used_l: centreOf(day.usedL),
    used_sd_l: sdOf(day.usedL),
    fills: day.fills,
    run_s: day.runS,
    pump_wh: centreOf(day.pumpWh),
    pump_sd_wh: sdOf(day.pumpWh),
    wh_per_l: centreOf(day.whPerL),
    wh_per_l_sd: sdOf(day.whPerL),
    battery_min_v: numberOrNull(day.batteryMinV),
    battery_max_v: numberOrNull(day.batteryMaxV),
    harvest_wh: numberOrNull(day.harvestWh),
    air_min_c: numberOrNull(day.airMinC),
    air_max_c: numberOrNull(day.airMaxC),
    covered: day.covered,
  }
}

export const JournalBody = z
  .object({
    id: z.number(),
    at: Time,
    by: z.string(),
    text: z.string(),
    new_baseline: z.boolean().describe('What was learned before this entry no longer serves'),
    upkeep: z.string().nullable().describe('The upkeep that was done, by its name in the configuration'),
  })
  .meta({ id: 'JournalEntry' })
export type JournalBody = z.infer<typeof JournalBody>

export function journalBody(entry: JournalEntry): JournalBody {
  return {
    id: entry.id,
    at: iso(entry.at),
    by: entry.by,
    text: entry.text,
    new_baseline: entry.newBaseline,
    upkeep: entry.upkeep,
  }
}

export const RefusedBody = z
  .object({
    reason: z.enum(REFUSALS),
    board: z.string(),
    count: z.number(),
    first: Time,
    last: Time,
    example: z.string().describe('As it was sent, shortened: not to be trusted'),
  })
  .meta({ id: 'Refused' })

export function refusedBody(count: RefusalCount): z.infer<typeof RefusedBody> {
  return { ...count, first: iso(count.first), last: iso(count.last) }
}

export const BrokerRefusedBody = z
  .object({
    reason: z.string(),
    who: z.string().describe('Account, or client id where none was given: as it was sent, shortened'),
    count: z.number(),
    first: Time,
    last: Time,
    example: z.string(),
  })
  .meta({ id: 'BrokerRefused' })

export function brokerRefusedBody(one: BrokerRefusal): z.infer<typeof BrokerRefusedBody> {
  return { ...one, first: iso(one.first), last: iso(one.last) }
}

export const AsideBody = z
  .object({ at: Time, board: z.string(), topic: z.string(), reason: z.string(), payload: z.string() })
  .meta({ id: 'KeptAside' })

export function asideBody(message: AsideMessage): z.infer<typeof AsideBody> {
  return { ...message, at: iso(message.at) }
}
