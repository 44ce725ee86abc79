/** How much panel and battery: the answer of `size` and of GET /api/sizing. */
import { z } from 'zod'
import type { SizeOption, SizingResult } from '../../model/sizing.js'
import { isoOrNull, NumberOrNull, numberOrNull, Time, TimeOrNull } from './common.js'

const Range = z.tuple([z.number(), z.number()])
const Month = z.number().int().min(1).max(12)

const OptionBody = z
  .object({
    array_w: z.number(),
    battery_ah: z.number(),
    short_days_per_year: z.number().describe('Days on which some of what was asked for could not be given'),
    short_days_ci95: Range.describe('Where that lies in 95 of 100 cases, by bootstrap'),
    worst_month: Month,
    loss_of_load: z.number().describe('Energy that was short over energy asked for'),
    present: z.boolean().describe('What stands there now'),
  })
  .meta({ id: 'SizeOption' })

const BasisBody = z.object({
  from: TimeOrNull,
  to: TimeOrNull,
  usable_days: z.number(),
  held_back_days: z.number().describe('Usable days on which a full battery held the array back'),
  missing_days: z.number(),
  measured_months: z.array(Month),
  beside_months: z.array(Month).describe('Filled from the months beside them'),
  uncovered_months: z.array(Month).describe('That no data covers'),
  load_wh_per_day: NumberOrNull,
  pump_wh_per_day: NumberOrNull,
  used_l_per_day: NumberOrNull,
  need_l_per_day: NumberOrNull,
  load_from: z.enum(['measured', 'balance', 'none']),
  performance: NumberOrNull.describe('What the open array gives of its rating under a clear sky'),
  shade: NumberOrNull.describe('What shade leaves of the year’s clear sky'),
  shade_by_hour: z.array(z.object({ hour_utc: z.number(), transmission: z.number() })),
  soiled: z.array(z.object({ from: Time, to: Time, share: z.number(), kind: z.enum(['soiled', 'covered']) })),
  sun_over_load: NumberOrNull.describe('What the present array could have given over what was asked for'),
  stored_days: NumberOrNull.describe('Days of the load in the present battery'),
  tank_days: NumberOrNull.describe('Days of the need in a full tank'),
  chemistry: z.string().nullable(),
  volts: NumberOrNull,
  depth: NumberOrNull.describe('Share of the battery that may be drawn every time'),
  aged_share: NumberOrNull,
  years: z.number().describe('Resampled years that each option was lived through'),
})

const HandBody = z
  .object({
    month: Month,
    load_wh: z.number(),
    sun_hours: z.number(),
    derate: z.number(),
    autonomy_days: z.number(),
    depth: z.number(),
    cold: z.number(),
    array_w: z.number(),
    battery_ah: z.number(),
  })
  .describe('Worst month’s load over its hours of full sun; days of autonomy over the depth of discharge')

export const SizingBody = z
  .object({
    site: z.string(),
    verdict: z.enum(['answered', 'range', 'declined']),
    reason: z.string().nullable(),
    short_days_allowed: z.number(),
    basis: BasisBody,
    options: z.array(OptionBody),
    recommended: OptionBody.nullable().describe('The smallest that meets the need as far as is known'),
    sure: OptionBody.nullable().describe('The smallest that meets it at the worse end of its range, too'),
    changes: z.array(
      z.object({ change: z.string(), words: z.string(), short_days_per_year: z.number(), short_days_ci95: Range }),
    ),
    hand_method: HandBody.nullable(),
    wire: z.object({ awg: z.string(), one_way_m: z.number(), amperes: z.number(), drop_share: z.number() }).nullable(),
    cautions: z.array(z.string()),
  })
  .meta({ id: 'Sizing' })
export type SizingBody = z.infer<typeof SizingBody>

function rounded(value: number, digits = 2): number {
  return Number(value.toFixed(digits))
}

function optionBody(option: SizeOption): z.infer<typeof OptionBody> {
  const [low, high] = option.shortDaysCi95
  return {
    array_w: option.arrayW,
    battery_ah: option.batteryAh,
    short_days_per_year: rounded(option.shortDaysPerYear),
    short_days_ci95: [rounded(low), rounded(high)],
    worst_month: option.worstMonth,
    loss_of_load: rounded(option.lossOfLoad, 5),
    present: option.present,
  }
}

function basisBody({ basis }: SizingResult): SizingBody['basis'] {
  const whole = (value: number | null): number | null => (value === null ? null : numberOrNull(rounded(value, 1)))
  const fine = (value: number | null): number | null => (value === null ? null : numberOrNull(rounded(value, 3)))
  return {
    from: isoOrNull(basis.from),
    to: isoOrNull(basis.to),
    usable_days: basis.usableDays,
    held_back_days: basis.heldBackDays,
    missing_days: basis.missingDays,
    measured_months: [...basis.measuredMonths],
    beside_months: [...basis.besideMonths],
    uncovered_months: [...basis.uncoveredMonths],
    load_wh_per_day: whole(basis.loadWhPerDay),
    pump_wh_per_day: whole(basis.pumpWhPerDay),
    used_l_per_day: whole(basis.usedLPerDay),
    need_l_per_day: whole(basis.needLPerDay),
    load_from: basis.loadFrom,
    performance: fine(basis.performance),
    shade: fine(basis.shade),
    shade_by_hour: basis.shadeByHour.map(({ hourUtc, transmission }) => ({
      hour_utc: hourUtc,
      transmission: rounded(transmission, 3),
    })),
    soiled: basis.soiled.map(({ from, to, share, kind }) => ({
      from: new Date(from).toISOString(),
      to: new Date(to).toISOString(),
      share: rounded(share, 3),
      kind,
    })),
    sun_over_load: fine(basis.sunOverLoad),
    stored_days: fine(basis.storedDays),
    tank_days: fine(basis.tankDays),
    chemistry: basis.chemistry,
    volts: basis.volts,
    depth: basis.depth,
    aged_share: basis.agedShare,
    years: basis.years,
  }
}

export function sizingBody(result: SizingResult): SizingBody {
  const { hand, wire } = result
  return {
    site: result.site,
    verdict: result.verdict,
    reason: result.reason,
    short_days_allowed: result.shortDaysAllowed,
    basis: basisBody(result),
    options: result.options.map(optionBody),
    recommended: result.recommended === null ? null : optionBody(result.recommended),
    sure: result.sure === null ? null : optionBody(result.sure),
    changes: result.changes.map(({ change, words, shortDaysPerYear, shortDaysCi95: [low, high] }) => ({
      change,
      words,
      short_days_per_year: rounded(shortDaysPerYear),
      short_days_ci95: [rounded(low), rounded(high)],
    })),
    hand_method:
      hand === null
        ? null
        : {
            month: hand.month,
            load_wh: rounded(hand.loadWh, 1),
            sun_hours: rounded(hand.sunHours),
            derate: rounded(hand.derate, 3),
            autonomy_days: hand.autonomyDays,
            depth: hand.depth,
            cold: rounded(hand.cold, 3),
            array_w: rounded(hand.arrayW, 0),
            battery_ah: rounded(hand.batteryAh, 0),
          },
    wire:
      wire === null
        ? null
        : {
            awg: wire.awg,
            one_way_m: wire.oneWayM,
            amperes: rounded(wire.amperes, 1),
            drop_share: rounded(wire.dropShare, 4),
          },
    cautions: [...result.cautions],
  }
}
