/** The part of `GET /api/now` about the battery's health and charge and the array. */
import { z } from 'zod'
import type { Facts } from '../../model/facts.js'
import { isoOrNull, NumberOrNull, numberOrNull, TimeOrNull } from './common.js'

export const PowerBody = z.object({
  current_a: NumberOrNull.describe('Into the battery positive'),
  charge: z
    .object({
      share: NumberOrNull.describe('0…1, counted since it was last full; null: only the band is known'),
      sd: NumberOrNull,
      low: z.number(),
      high: z.number(),
      by: z.enum(['counted', 'voltage']),
      from: TimeOrNull.describe('When it was last full, or when the resting voltage was seen'),
    })
    .nullable(),
  full: z.boolean(),
  last_full_at: TimeOrNull,
  days_not_full: z.number().describe('Whole days since, of those that were watched'),
  load_a: NumberOrNull.describe('Mean discharge of the last day'),
  cut_off: z
    .object({ hours: z.number(), low_h: z.number(), high_h: z.number(), by: z.enum(['counted', 'voltage']) })
    .nullable()
    .describe('Hours to the cut-off at this load without sun, and what they lie between'),
  sag: z
    .object({
      ohm: z.number(),
      sd_ohm: z.number(),
      usual_ohm: z.number(),
      usual_sd_ohm: z.number(),
      starts: z.number(),
      temperature_from: z.enum(['battery', 'air']).nullable(),
      trend_ohm_30_d: NumberOrNull,
      trend_sd_ohm_30_d: NumberOrNull,
      last_at: TimeOrNull,
    })
    .nullable()
    .describe('Voltage drop per ampere at starts of the pump, at 20 °C, median of the last three'),
  cold_charge_since: TimeOrNull,
  cold_lock_out_since: TimeOrNull.describe('Light on the panels that a cold lithium battery does not take: no fault'),
  array: z
    .object({
      hours: z.number(),
      ratio: NumberOrNull,
      usual_ratio: NumberOrNull,
      lowest_ratio: NumberOrNull,
      days: z.number(),
    })
    .nullable()
    .describe("Today's harvest over a clear sky's, in hours in which the battery could take it"),
})

export function powerPart({ power }: Facts): z.infer<typeof PowerBody> {
  const { charge, cutOff, sag, array } = power
  return {
    current_a: numberOrNull(power.batteryA),
    charge: charge === null ? null : { ...charge, from: isoOrNull(charge.from) },
    full: power.full,
    last_full_at: isoOrNull(power.lastFullAt),
    days_not_full: power.daysNotFull,
    load_a: numberOrNull(power.loadA),
    cut_off: cutOff === null ? null : { hours: cutOff.hours, low_h: cutOff.lowH, high_h: cutOff.highH, by: cutOff.by },
    sag:
      sag === null
        ? null
        : {
            ohm: sag.ohm,
            sd_ohm: sag.sdOhm,
            usual_ohm: sag.usual.value,
            usual_sd_ohm: sag.usual.sd,
            starts: sag.usual.starts,
            temperature_from: sag.temperatureFrom,
            trend_ohm_30_d: numberOrNull(sag.trendOhm?.value ?? null),
            trend_sd_ohm_30_d: numberOrNull(sag.trendOhm?.sd ?? null),
            last_at: isoOrNull(sag.lastAt),
          },
    cold_charge_since: isoOrNull(power.coldChargeSince),
    cold_lock_out_since: isoOrNull(power.coldLockOutSince),
    array:
      array === null
        ? null
        : {
            hours: array.hours,
            ratio: numberOrNull(array.ratio),
            usual_ratio: numberOrNull(array.usualRatio),
            lowest_ratio: numberOrNull(array.lowestRatio),
            days: array.days,
          },
  }
}
