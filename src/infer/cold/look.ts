/** The cold's part of the engine: readings in, a step each ten minutes, facts at each look. */
import type { Facts } from '../../model/facts.js'
import type { ColdFacts, NoTonight, Tonight } from '../../model/facts-cold.js'
import type { RoleId } from '../../model/roles.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { type Place, placeOf } from '../sun/place.js'
import { coursePoints, followOutlook, type Outlook, outlookOf } from './course.js'
import { noteDay } from './daily.js'
import { electrolyteFreezesAtC, restingCharge } from './electrolyte.js'
import { followEvening, forecastFor } from './evening.js'
import { followAir, learnRates, lookAhead, lookAtLines, noteEvening, noteMorning, noteNight } from './lines.js'
import { skillsOf } from './methods.js'
import { type ColdState, createCold, KEPT, keep, round2 } from './state.js'

const STEP_MS = 10 * MINUTE
const HALF_HOUR_MS = 30 * MINUTE
const STALE_MS = 30 * MINUTE
/** A battery in its box follows the air in about this [common practice]. */
const BATTERY_H = 12
/** Put on top of both temperatures while a lag alone is followed. */
const ABOVE_C = 100
/** By the evening the panel must have been seen this long to say how sunny the day was. */
const HARVEST_LEAST_S = 10 * 3600
/** Electrolyte this near to its freezing point is told. */
const ELECTROLYTE_MARGIN_C = 3

export function emptyCold(): ColdFacts {
  const fresh = createCold()
  return {
    tonight: null,
    noTonight: fresh.noTonight,
    methods: fresh.methods,
    ownNights: 0,
    frost: null,
    battery: null,
    hardFrostOn: null,
    closing: fresh.closing,
    opening: fresh.opening,
  }
}

/** A reading that only the cold has a use for. */
export function takeCold(cold: ColdState, role: RoleId, t: Ms, value: number): void {
  if (role === 'humidity') {
    cold.humidity = value
    cold.humidityT = t
  } else if (role === 'forecast-minimum') {
    cold.forecastC = value
    cold.forecastT = t
  } else if (role === 'box-temperature') {
    cold.boxC = value
    cold.boxT = t
  }
}

/** Follows the cold up to this look and fills in its facts. */
export function lookAtCold(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const { cold } = state
  followAir(plan, state, at)
  const source = plan.nightSource
  const now = source === null ? null : sourceC(plan, state, source, at)
  if (now !== null) {
    cold.sum += now
    cold.n += 1
  }
  if (at % STEP_MS === 0) step(plan, state, at, source)
  lookAtLines(plan, state, at, facts.lines)
  tell(cold, facts.cold)
}

/** The air's thermometer, or a line's own, at this look; null: stale or failed. */
function sourceC(plan: SitePlan, state: EngineState, source: number, at: Ms): number | null {
  if (plan.index['air-temperature'] === source) return at - state.airT <= STALE_MS ? state.airC : null
  const line = state.lines[plan.lineSignals.indexOf(source)]
  return line === undefined || at - line.t > STALE_MS ? null : line.c
}

function step(plan: SitePlan, state: EngineState, at: Ms, source: number | null): void {
  const { cold } = state
  const c = cold.n === 0 ? null : round2(cold.sum / cold.n)
  cold.sum = 0
  cold.n = 0
  const place = placeOf(plan.site)
  const before = cold.evening
  const onAir = source !== null && plan.index['air-temperature'] === source
  cold.onAir = onAir
  if (place !== null) {
    followEvening(cold, place, at, { c, harvestWh: harvestToday(plan, state, at), water: !onAir })
  }
  const half = at % HALF_HOUR_MS === 0
  if (half) learnRates(plan, state, at)
  if (onAir && before !== null && before !== cold.evening) noteMorning(plan, state.lines)
  const outlook = c === null ? null : outlookOf(cold, at, c)
  lookAhead(plan, state, at, outlook, onAir ? null : source)
  if (onAir && cold.evening !== null && cold.evening.t0 !== null) {
    if (state.lines.every((line) => line.likeC === null)) noteEvening(state.lines)
    else if (c !== null) noteNight(plan, state.lines, c, STEP_MS / HOUR)
  }
  cold.tonight = outlook === null ? null : tonightOf(plan, cold, outlook, at)
  cold.noTonight = cold.tonight !== null ? null : whyNot(cold, source, place)
  if (cold.methods.length === 0 || before !== cold.evening) cold.methods = skillsOf(cold.errors)
  followBattery(plan, state, at, outlook)
  if (c === null) return
  noteDay(plan, state, at, c)
  if (half) {
    keep(cold.halfT, at, KEPT.halfHours)
    keep(cold.halfC, c, KEPT.halfHours)
  }
}

/** The harvest of this day so far, Wh, where the panel was seen for most of it. */
function harvestToday(plan: SitePlan, state: EngineState, at: Ms): number | null {
  const { date } = plan.calendar.dayOf(at)
  const day = state.days.find((one) => one.date === date)
  return day === undefined || day.harvestS < HARVEST_LEAST_S ? null : day.harvestWs / 3600
}

/** How cold the battery becomes: its own thermometer let follow the air, or the air's minimum where it has none. */
function followBattery(plan: SitePlan, state: EngineState, at: Ms, outlook: Outlook | null): void {
  const { cold } = state
  const settings = plan.site.battery
  cold.battery = null
  if (settings === null || outlook === null) return
  const expectedMinC = batteryMinimum(state, at, outlook)
  if (settings.chemistry === 'lifepo4') {
    cold.battery = { kind: 'lithium', expectedMinC, chargeRefused: expectedMinC < 0 }
    return
  }
  noteCharge(state, at, settings.nominalVoltageV)
  if (cold.charge === null) return
  const freezesAtC = round2(electrolyteFreezesAtC(cold.charge))
  const threatened = expectedMinC <= freezesAtC + ELECTROLYTE_MARGIN_C
  cold.battery = { kind: 'electrolyte', chargeShare: cold.charge, freezesAtC, expectedMinC, threatened }
}

/** At night, with nothing to charge it, the voltage at rest tells the charge of lead and acid. */
function noteCharge({ cold, battery }: EngineState, at: Ms, nominalV: number): void {
  const { evening } = cold
  const volts = battery.hourV.at(-1)
  const fresh = volts !== undefined && at - (battery.hourT.at(-1) ?? 0) < 2 * HOUR
  const dark = evening !== null && at > evening.sunset + 2 * HOUR && at < evening.sunrise
  if (fresh && dark) cold.charge = round2(restingCharge(volts, nominalV))
}

/** A box keeps its warmth over the air; half of it is counted on. */
function batteryMinimum({ battery }: EngineState, at: Ms, outlook: Outlook): number {
  const c = battery.temperatureC !== null && at - battery.temperatureT < HOUR ? battery.temperatureC : null
  if (c === null) return outlook.min
  const warmer = Math.max(0, c - outlook.at(at).c) / 2
  // Far above freezing on both sides, so that only the lag counts.
  const lag = { timeConstantH: BATTERY_H, iceC: 1 }
  return round2(followOutlook(outlook, lag, { c: c + ABOVE_C, ice: 0 }, at, 0, ABOVE_C + warmer).min - ABOVE_C)
}

function tonightOf(plan: SitePlan, cold: ColdState, outlook: Outlook, at: Ms): Tonight | null {
  const { evening } = cold
  const source = plan.nightSource === null ? undefined : plan.signals[plan.nightSource]
  if (evening === null || source === undefined) return null
  return {
    source: source.key,
    sunset: evening.sunset,
    sunrise: evening.sunrise,
    method: evening.min === null && forecastFor(cold, at) === outlook.min ? 'forecast' : evening.method,
    expectedMinC: round2(outlook.min),
    sdC: round2(outlook.sd),
    evening: evening.min !== null,
    t0C: evening.t0,
    dewPointC: evening.td,
    fallC: evening.fall,
    sky: evening.sky,
    course: coursePoints(outlook, at),
  }
}

function whyNot(cold: ColdState, source: number | null, place: Place | null): NoTonight {
  if (source === null) return 'no-thermometer'
  if (place === null) return 'no-place'
  return cold.evening === null ? 'no-night' : 'not-yet'
}

function tell(cold: ColdState, out: ColdFacts): void {
  out.tonight = cold.tonight
  out.noTonight = cold.noTonight
  out.methods = cold.methods
  out.ownNights = cold.nights.length
  out.frost = cold.frost
  out.battery = cold.battery
  out.hardFrostOn = cold.hardFrostOn
  out.closing = cold.closing
  out.opening = cold.opening
}
