/** Follows one night after the other: what is known two hours after sunset, what is said, and how it came out. */
import { NIGHT_METHODS } from '../../model/facts-cold.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../model/time.js'
import { sunDay } from '../sun/day.js'
import type { Place } from '../sun/place.js'
import { dewPointC } from './dew-point.js'
import { choose, generalMinimum, ownMinimum, skyCode, skyOf } from './methods.js'
import { followNight, noteMarks } from './night-marks.js'
import { type ColdState, type Evening, KEPT, keep, MARKS, round2 } from './state.js'

/** The coldest comes around sunrise; an hour after it the night is over. */
const OVER_AFTER_MS = HOUR
/** A moment that was missed by more than this was not seen. */
const MISSED_MS = 30 * MINUTE
/** Age at which a forecast from elsewhere no longer speaks of tonight. */
const FORECAST_STALE_MS = 20 * HOUR
const HUMIDITY_STALE_MS = HOUR
/** The first idea is compared with the night as it was this long before sunset. */
const EARLY_MS = 3 * HOUR
const EARLY_BEFORE_C = 3.5
const EARLY_NIGHTS = 4
/** How much of today's difference from yesterday lasts until the night's end. */
const LASTS = 0.6

/** Between these a line's thermometer stays while its water turns to ice, °C. */
const ICE_C = { least: -3, most: 0.2 } as const

export type Evidence = {
  /** Mean of the last ten minutes; null: not known. */
  readonly c: number | null
  /** The day's so far; null: not known. */
  readonly harvestWh: number | null
  /** The thermometer is that of a line: its water freezes, and then it shows nothing of the night. */
  readonly water: boolean
}

/** Moves the evening on. */
export function followEvening(cold: ColdState, place: Place, at: Ms, { c, harvestWh, water }: Evidence): void {
  if (cold.evening !== null && at >= cold.evening.over) closeNight(cold, cold.evening, water)
  // Where the sun does not set, it is looked for again each hour, not at each step.
  if (cold.evening === null ? at % HOUR === 0 : at >= cold.evening.over) cold.evening = nextEvening(place, at)
  const { evening } = cold
  if (evening === null || c === null) return
  if (evening.sunsetC === null && at >= evening.sunset && at - evening.sunset <= MISSED_MS) evening.sunsetC = c
  const moment = evening.sunset + 2 * HOUR
  if (evening.saidEarly === null && at >= evening.sunset - EARLY_MS && at < evening.sunset) {
    evening.saidEarly = earlyMinimum(cold, at, c)
  }
  if (evening.t0 === null && at >= moment && at - moment <= MISSED_MS) decide(cold, evening, at, c, harvestWh)
  if (at >= moment && (evening.coldest === null || c < evening.coldest)) evening.coldest = round2(c)
  if (evening.t0 !== null && at > moment) followNight(cold, evening, at, c)
}

function nextEvening(place: Place, at: Ms): Evening | null {
  const today = sunDay(place, at - DAY)
  const tomorrow = sunDay(place, today.noon + HOUR)
  const now = tomorrow.sunrise === null || at < tomorrow.sunrise + OVER_AFTER_MS
  const before = now ? today : tomorrow
  const after = now ? tomorrow : sunDay(place, tomorrow.noon + HOUR)
  if (before.sunset === null || after.sunrise === null || after.sunrise - before.sunset < 3 * HOUR) return null
  return {
    sunset: before.sunset,
    sunrise: after.sunrise,
    over: after.sunrise + OVER_AFTER_MS,
    sunsetC: null,
    t0: null,
    td: null,
    fall: null,
    sun: null,
    sky: null,
    said: { own: null, general: null, forecast: null, persistence: null },
    saidEarly: null,
    method: 'persistence',
    saidMin: null,
    saidSd: EARLY_BEFORE_C,
    min: null,
    sd: EARLY_BEFORE_C,
    marks: new Array<number | null>(MARKS).fill(null),
    saidAt: new Array<null>(MARKS).fill(null),
    base: null,
    coldest: null,
  }
}

/** Two hours after sunset: every method says its minimum, and the one that has been right here counts. */
function decide(cold: ColdState, evening: Evening, at: Ms, c: number, harvestWh: number | null): void {
  const nightH = (evening.sunrise - evening.sunset) / HOUR
  const damp = cold.humidity !== null && at - cold.humidityT <= HUMIDITY_STALE_MS ? cold.humidity : null
  const td = damp === null ? null : dewPointC(c, damp)
  const fall = evening.sunsetC === null ? null : round2(evening.sunsetC - c)
  evening.t0 = round2(c)
  evening.td = td === null ? null : round2(td)
  evening.fall = fall
  if (harvestWh !== null) keep(cold.harvests, Math.round(harvestWh), KEPT.harvests)
  evening.sun = harvestWh === null ? null : sunShare(cold.harvests)
  evening.sky = fall === null ? null : skyOf(cold.nights, fall, evening.sun)
  const { said } = evening
  if (fall !== null) {
    const own = ownMinimum(cold.nights, { t0: c, td, fall, sun: evening.sun })
    said.own = own === null ? null : round2(own)
    said.general = round2(generalMinimum(c, fall, nightH))
  }
  said.forecast = forecastFor(cold, at)
  said.persistence = cold.lastMin
  const chosen = choose(cold, evening)
  if (chosen === null) return
  evening.method = chosen.method
  evening.saidMin = Math.min(chosen.min, evening.t0)
  evening.saidSd = round2(chosen.sd)
  evening.min = evening.saidMin
  evening.sd = evening.saidSd
  evening.base = { share: 0, c: evening.t0, min: evening.saidMin, sd: evening.saidSd }
}

export function forecastFor(cold: ColdState, at: Ms): number | null {
  return cold.forecastC !== null && at - cold.forecastT <= FORECAST_STALE_MS ? round2(cold.forecastC) : null
}

/** Today's harvest beside the best of the last days; null: too few, or none that day. */
function sunShare(harvests: readonly number[]): number | null {
  const today = harvests.at(-1)
  const best = Math.max(0, ...harvests)
  return today === undefined || harvests.length < 4 || best <= 0 ? null : round2(today / best)
}

function closeNight(cold: ColdState, evening: Evening, water: boolean): void {
  const { coldest, t0, td, fall, sun, marks } = evening
  if (coldest === null || t0 === null) {
    cold.lastMin = coldest
    return
  }
  if (water && held(evening, coldest)) {
    cold.lastMin = coldest
    return
  }
  noteMarks(cold, evening, coldest)
  for (const method of NIGHT_METHODS) {
    const said = evening.said[method]
    if (said !== null) keep(cold.errors[method], [round2(coldest - said), skyCode(evening.sky)], KEPT.errors)
  }
  if (evening.saidEarly !== null) keep(cold.earlyErrors, round2(coldest - evening.saidEarly), KEPT.errors)
  if (fall !== null) keep(cold.nights, { t0, td, fall, sun, marks, min: coldest }, KEPT.nights)
  cold.lastMin = coldest
}

/** Ice held the line near 0 °C for a part of the night. */
function held({ t0, marks }: Evening, coldest: number): boolean {
  const near = (c: number | null) => c !== null && c >= ICE_C.least && c <= ICE_C.most
  return near(t0) || near(coldest) || marks.some(near)
}

/** Before two hours after sunset: last night's minimum, moved by how today differs from yesterday at this hour. */
export function earlyMinimum(cold: ColdState, at: Ms, c: number): number | null {
  const forecast = forecastFor(cold, at)
  if (forecast !== null && cold.errors.forecast.length >= 5) return forecast
  if (cold.lastMin === null) return forecast
  // A line's thermometer differs from yesterday's by the water that was drawn, not by the weather.
  const yesterday = cold.onAir ? halfHourAt(cold, at - DAY) : null
  return round2(cold.lastMin + (yesterday === null ? 0 : LASTS * (c - yesterday)))
}

export function earlySpread(cold: ColdState): number {
  const squares = cold.earlyErrors.reduce((sum, error) => sum + error * error, 0)
  return Math.sqrt((EARLY_BEFORE_C ** 2 * EARLY_NIGHTS + squares) / (EARLY_NIGHTS + cold.earlyErrors.length))
}

/** The half-hour mean nearest to an instant, within a half-hour; null: not kept. */
export function halfHourAt(cold: Pick<ColdState, 'halfT' | 'halfC'>, at: Ms): number | null {
  for (let i = cold.halfT.length - 1; i >= 0; i -= 1) {
    const t = cold.halfT[i] ?? 0
    if (Math.abs(t - at) <= 20 * MINUTE) return cold.halfC[i] ?? null
    if (t < at) return null
  }
  return null
}
