/** The body of `GET /api/freeze`: tonight, the lines, the ground, the battery, closing and opening. */
import { z } from 'zod'
import { NIGHT_METHODS, type SeasonRange } from '../../model/facts-cold.js'
import type { Facts, LineFacts } from '../../model/facts.js'
import type { Modes } from '../../model/modes.js'
import type { SiteSettings } from '../../model/settings.js'
import { CLOSING_STEPS, OPENING_STEPS, SEASON_CAUTIONS } from '../words/season-lists.js'
import { iso, isoOrNull, NumberOrNull, numberOrNull, Time, TimeOrNull } from './common.js'

const TonightBody = z.object({
  source: z.string().describe('Signal whose nights are followed: the air, or a line’s own where no air is measured'),
  sunset: Time,
  sunrise: Time,
  method: z.enum(NIGHT_METHODS),
  expected_min_c: z.number(),
  sd_c: z.number().describe('One standard uncertainty'),
  evening: z.boolean().describe('False before two hours after sunset: a first idea from yesterday and last night'),
  two_hours_after_sunset_c: NumberOrNull,
  dew_point_c: NumberOrNull,
  fall_since_sunset_c: NumberOrNull,
  sky: z.enum(['clear', 'mixed', 'cloudy']).nullable(),
  course: z.array(z.object({ at: Time, c: z.number(), sd_c: z.number() })),
})

const FreezeLineBody = z.object({
  name: z.string(),
  kind: z.enum(['exposed', 'boxed', 'buried']),
  water: z.enum(['standing', 'flowing', 'drained']),
  temperature_c: NumberOrNull,
  modelled: z.boolean(),
  frozen_since: TimeOrNull,
  hours_to_zero: NumberOrNull,
  hours_to_zero_least: NumberOrNull.describe('If the night becomes 1.5 sd colder than expected'),
  hours_to_ice: NumberOrNull.describe('Until standing water is frozen through; null: not by the next morning'),
  expected_min_c: NumberOrNull,
  expected_min_sd_c: NumberOrNull,
  time_constant_h: NumberOrNull,
  time_constant_learned: z.boolean(),
  depth_m: NumberOrNull,
  frost_reaches: z.enum(['no', 'in-a-fortnight', 'yes']).nullable().describe('Buried lines: frost in bare ground'),
})

const SeasonBody = z.object({
  known: z.boolean(),
  from: z.iso.date().nullable(),
  to: z.iso.date().nullable(),
  rests_on: z.string(),
  steps: z.array(z.string()),
})

export const FreezeBody = z
  .object({
    site: z.string(),
    at: TimeOrNull.describe('The moment of the data'),
    tonight: TonightBody.nullable(),
    no_tonight: z.enum(['no-place', 'no-thermometer', 'no-night', 'not-yet']).nullable(),
    own_nights: z.number(),
    methods: z.array(
      z.object({ method: z.enum(NIGHT_METHODS), nights: z.number(), rms_c: NumberOrNull, bias_c: NumberOrNull }),
    ),
    lines: z.array(FreezeLineBody),
    frost: z
      .object({
        since: z.iso.date(),
        days: z.number(),
        freezing_index_c_days: z.number(),
        season_freezing_index_c_days: z.number(),
        depth_m: z.number(),
        depth_turf_m: z.number(),
        depth_cleared_m: z.number(),
        depth_in_a_fortnight_m: z.number(),
        course: z.array(z.object({ date: z.iso.date(), depth_m: z.number() })),
      })
      .nullable(),
    battery: z
      .object({
        kind: z.enum(['electrolyte', 'lithium']),
        expected_min_c: z.number(),
        charge: NumberOrNull.describe('Lead-acid: by the voltage at rest, 0…1'),
        freezes_at_c: NumberOrNull,
        threatened: z.boolean().describe('Lead-acid: may freeze; lithium: too cold to be charged'),
      })
      .nullable(),
    hard_frost_on: z.iso.date().nullable().describe('First hard frost (-2.2 °C) seen this season'),
    closing: SeasonBody,
    opening: SeasonBody,
    cautions: z.array(z.string()),
  })
  .meta({ id: 'Freeze' })
export type FreezeBody = z.infer<typeof FreezeBody>

export function freezeBody(site: SiteSettings, facts: Facts | null, modes: Modes): FreezeBody {
  const cold = facts?.cold
  const nothing: SeasonRange = { known: false, nights: 0, neededNights: 1 }
  return {
    site: site.id,
    at: isoOrNull(facts?.at ?? null),
    tonight: tonightBody(facts),
    no_tonight: cold === undefined ? 'not-yet' : cold.noTonight,
    own_nights: cold?.ownNights ?? 0,
    methods: (cold?.methods ?? []).map(({ method, nights, rmsC, biasC }) => ({
      method,
      nights,
      rms_c: numberOrNull(rmsC),
      bias_c: numberOrNull(biasC),
    })),
    lines: (facts?.lines ?? []).map((line, i) => lineBody(line, site, i, facts, modes)),
    frost: frostBody(facts),
    battery: batteryBody(facts),
    hard_frost_on: cold?.hardFrostOn ?? null,
    closing: seasonBody(cold?.closing ?? nothing, CLOSING_STEPS),
    opening: seasonBody(cold?.opening ?? nothing, OPENING_STEPS),
    cautions: [...SEASON_CAUTIONS],
  }
}

function tonightBody(facts: Facts | null): FreezeBody['tonight'] {
  const tonight = facts?.cold.tonight ?? null
  if (tonight === null) return null
  return {
    source: tonight.source,
    sunset: iso(tonight.sunset),
    sunrise: iso(tonight.sunrise),
    method: tonight.method,
    expected_min_c: tonight.expectedMinC,
    sd_c: tonight.sdC,
    evening: tonight.evening,
    two_hours_after_sunset_c: tonight.t0C,
    dew_point_c: tonight.dewPointC,
    fall_since_sunset_c: tonight.fallC,
    sky: tonight.sky,
    course: tonight.course.map(({ at, c, sdC }) => ({ at: iso(at), c, sd_c: sdC })),
  }
}

function lineBody(
  line: LineFacts,
  site: SiteSettings,
  i: number,
  facts: Facts | null,
  modes: Modes,
): FreezeBody['lines'][number] {
  const settings = site.lines[i]
  const depthM = settings?.depthM ?? null
  return {
    name: line.name,
    kind: settings?.kind ?? 'exposed',
    water: modes.winterized ? 'drained' : line.flowing ? 'flowing' : 'standing',
    temperature_c: numberOrNull(line.temperatureC),
    modelled: line.modelled,
    frozen_since: isoOrNull(line.frozenSince),
    hours_to_zero: numberOrNull(line.hoursToZero),
    hours_to_zero_least: numberOrNull(line.hoursToZeroLeast),
    hours_to_ice: numberOrNull(line.hoursToIce),
    expected_min_c: numberOrNull(line.expectedMinC),
    expected_min_sd_c: numberOrNull(line.expectedMinSdC),
    time_constant_h: settings?.kind === 'buried' ? null : numberOrNull(line.timeConstantH),
    time_constant_learned: line.timeConstantLearned,
    depth_m: depthM,
    frost_reaches: settings?.kind === 'buried' ? reaches(facts, depthM) : null,
  }
}

function reaches(facts: Facts | null, depthM: number | null): 'no' | 'in-a-fortnight' | 'yes' | null {
  const frost = facts?.cold.frost ?? null
  if (frost === null || depthM === null) return null
  if (frost.depthM >= depthM) return 'yes'
  return frost.fortnightM >= depthM ? 'in-a-fortnight' : 'no'
}

function frostBody(facts: Facts | null): FreezeBody['frost'] {
  const frost = facts?.cold.frost ?? null
  if (frost === null) return null
  return {
    since: frost.since,
    days: frost.days,
    freezing_index_c_days: frost.indexCd,
    season_freezing_index_c_days: frost.seasonIndexCd,
    depth_m: frost.depthM,
    depth_turf_m: frost.shallowM,
    depth_cleared_m: frost.deepM,
    depth_in_a_fortnight_m: frost.fortnightM,
    course: frost.course.map(({ date, depthM }) => ({ date, depth_m: depthM })),
  }
}

function batteryBody(facts: Facts | null): FreezeBody['battery'] {
  const battery = facts?.cold.battery ?? null
  if (battery === null) return null
  const lead = battery.kind === 'electrolyte'
  return {
    kind: battery.kind,
    expected_min_c: battery.expectedMinC,
    charge: lead ? battery.chargeShare : null,
    freezes_at_c: lead ? battery.freezesAtC : null,
    threatened: lead ? battery.threatened : battery.chargeRefused,
  }
}

function seasonBody(range: SeasonRange, steps: readonly string[]): FreezeBody['closing'] {
  if (range.known) {
    const rests = `${range.nights} nights of this place within ${range.spanDays} days, and how this year has been lately`
    return { known: true, from: range.from, to: range.to, rests_on: rests, steps: [...steps] }
  }
  const why =
    range.neededNights > 0
      ? `Not enough nights yet: ${range.nights} of ${range.neededNights}.`
      : `By ${range.nights} nights of this place a hard frost is unlikely here.`
  return { known: false, from: null, to: null, rests_on: why, steps: [...steps] }
}
