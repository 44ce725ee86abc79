/** Follows one night after the other: what is known two hours after sunset, what is said, and how it came out. */
import { NIGHT_METHODS } from '../../model/facts-cold.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../model/time.js'
import { sunDay } from '../sun/day.js'
import type { Place } from '../sun/place.js'
import { dewPointC } from './dew-point.js'
import { choose, generalMinimum, ownMinimum, skyCode, skyOf } from './methods.js'
import { fallenShare } from './night-course.js'
import { type ColdState, type Evening, KEPT, keep, round2 } from './state.js'

/** The coldest comes around sunrise; an hour after it the night is over. */
const OVER_AFTER_MS = HOUR
/** A moment that was missed by more than this was not seen. */
const MISSED_MS = 30 * MINUTE
/** Age at which a forecast from elsewhere no longer speaks of tonight. */
const FORECAST_STALE_MS = 20 * HOUR
const HUMIDITY_STALE_MS = HOUR
/** How far a moment of the night lies from the FAO's course, °C. */
const COURSE_SD_C = 1
/** The first idea is compared with the night as it was this long before sunset. */
const EARLY_MS = 3 * HOUR
const EARLY_BEFORE_C = 3.5
const EARLY_NIGHTS = 4
/** How much of today's difference from yesterday lasts until the night's end. */
const LASTS = 0.6

/** Moves the evening on. `c`: mean of the last ten minutes, `harvestWh`: the day's so far; null: not known. */
export function followEvening(cold: ColdState, place: Place, at: Ms, c: number | null, harvestWh: number | null): void {
  if (cold.evening !== null && at >= cold.evening.over) closeNight(cold, cold.evening)
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
  if (evening.t0 !== null && at > moment) watch(evening, at, c)
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

/** As the night goes another way than was said, its end is moved, the more the later it is. */
function watch(evening: Evening, at: Ms, c: number): void {
  const { t0, saidMin, saidSd } = evening
  if (t0 === null || saidMin === null) return
  const nightH = (evening.sunrise - evening.sunset) / HOUR
  const share = fallenShare((at - evening.sunset) / HOUR, nightH)
  // From what was said in the evening, not from the last step: asked more often, the night comes out the same.
  const gain = (share * saidSd ** 2) / (share ** 2 * saidSd ** 2 + COURSE_SD_C ** 2)
  const moved = saidMin + gain * (c - (t0 + (saidMin - t0) * share))
  evening.min = round2(Math.min(moved, t0, evening.coldest ?? t0))
  evening.sd = round2(Math.max(0.3, saidSd * Math.sqrt(1 - gain * share)))
}

function closeNight(cold: ColdState, evening: Evening): void {
  const { coldest, t0, td, fall, sun } = evening
  if (coldest === null || t0 === null) {
    cold.lastMin = coldest
    return
  }
  for (const method of NIGHT_METHODS) {
    const said = evening.said[method]
    if (said !== null) keep(cold.errors[method], [round2(coldest - said), skyCode(evening.sky)], KEPT.errors)
  }
  if (evening.saidEarly !== null) keep(cold.earlyErrors, round2(coldest - evening.saidEarly), KEPT.errors)
  if (fall !== null) keep(cold.nights, { t0, td, fall, sun, min: coldest }, KEPT.nights)
  cold.lastMin = coldest
}

/** Before two hours after sunset: last night's minimum, moved by how today differs from yesterday at this hour. */
export function earlyMinimum(cold: ColdState, at: Ms, c: number): number | null {
  const forecast = forecastFor(cold, at)
  if (forecast !== null && cold.errors.forecast.length >= 5) return forecast
  if (cold.lastMin === null) return forecast
  const yesterday = halfHourAt(cold, at - DAY)
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
