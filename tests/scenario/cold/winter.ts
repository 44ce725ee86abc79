/**
 * One winter at an example site, from the middle of September to the middle of April, without the second-by-second
 * life of pump and people: weather, lines and what the site's boards send of them (at juniper air, humidity, the line's
 * thermometer and the panel; at fern the line's thermometer alone) every five minutes, through the engine's own intake,
 * the cold's part of its looks, and the judge.
 */
import { Line } from '../../../simulators/line.js'
import { planOf, type SitePlan } from '../../../simulators/plan.js'
import { Random } from '../../../simulators/random.js'
import { Weather } from '../../../simulators/weather.js'
import { lookAtCold } from '../../../src/infer/cold/look.js'
import { type IntakeCalls, take } from '../../../src/infer/intake.js'
import { emptyFacts } from '../../../src/infer/look.js'
import { createPlan } from '../../../src/infer/plan.js'
import { initialState } from '../../../src/infer/state.js'
import { createJudge } from '../../../src/judge/judge.js'
import { DAEMON_WELL } from '../../../src/model/daemon-facts.js'
import { ALARM_IDS, type AlarmId } from '../../../src/model/alarm.js'
import type { Tonight } from '../../../src/model/facts-cold.js'
import type { Modes } from '../../../src/model/modes.js'
import type { AlarmSettings, SiteSettings } from '../../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms } from '../../../src/model/time.js'
import { settingsOf } from '../detection/run-case.js'

const STEP_MS = 5 * MINUTE
const HOME: Modes = { away: false, winterized: false, maintenanceUntil: null }
const FREE = { airMassC: Number.NaN, cloud: Number.NaN }
const CALLS: IntakeCalls = { close: () => {}, tooFast: () => {} }
/** Some 600 l a day lifted 45 m. */
const PUMP_MEAN_W = 8
/** Less ice than this: the line only touched 0 °C, by less than a thermometer could tell. */
const TOUCHED_ICE = 0.003
/** A line that was above 0 °C for this long comes to it anew. */
const ANEW_MS = 6 * HOUR
/** People draw for half an hour in the evening: the line is warmed by the water from the well. */
const DRAWS_AT_H = 18

/** The example sites as they are, and juniper with one more line, in the open and without a thermometer. */
export const PLACES = ['juniper', 'fern', 'juniper-tap'] as const
/** Settings were chosen with winters of the first seeds; what is counted and tested begins at the other. */
export const SEEDS = { chosenWith: [101, 112], countedFrom: 401 } as const
export type WinterPlace = (typeof PLACES)[number]

export type Arrived = {
  readonly line: string
  readonly at: Ms
  /** Clear from sunset until then: at most three tenths of cloud. */
  readonly clear: boolean
  /** How long the alarm had stood; null: it did not. */
  readonly warnedMs: number | null
  /** The most of its water that was ice before it thawed, 0…1. */
  ice: number
}

export type Warning = {
  readonly line: string
  readonly at: Ms
  cleared: Ms
  minC: number
  airMinC: number
  readonly evening: boolean
  readonly sky: string | null
}

export type Winter = {
  readonly arrived: Arrived[]
  readonly warnings: Warning[]
  readonly notices: number
  /** Squares of the error of the minimum said two hours after sunset, °C², by clear nights and all. */
  readonly nights: { readonly clear: boolean; readonly error: number }[]
}

/** The other alarms would only be told that there is no pump. */
const OTHERS_OFF: SiteSettings['alarms'] = Object.fromEntries(
  ALARM_IDS.filter((id) => id !== 'freeze-risk' && id !== 'freezing').map((id): [AlarmId, AlarmSettings] => [
    id,
    { enabled: false, priority: null, onDelayS: null, offDelayS: null, numbers: {} },
  ]),
)

export function winterSite(place: WinterPlace): SiteSettings {
  const settings = { ...settingsOf(place === 'fern' ? 'fern' : 'juniper'), alarms: OTHERS_OFF }
  if (place !== 'juniper-tap') return settings
  const tap = {
    name: 'yard tap',
    kind: 'exposed' as const,
    insideDiameterM: 0.019,
    depthM: null,
    insulationM: null,
    temperatureKey: null,
  }
  return { ...settings, lines: [...settings.lines, tap] }
}

type Watched = {
  readonly name: string
  readonly water: Line
  zeroAt: Ms | null
  aboveSince: Ms
  activeSince: Ms | null
}

export function winter(place: WinterPlace, seed: number, days = 212, startMs = Date.UTC(2026, 8, 15, 16)): Winter {
  const settings = winterSite(place)
  const physics = planOf(place === 'fern' ? 'fern' : 'juniper')
  const plan = createPlan(settings)
  const state = initialState(settings.boards.length, plan.signals.length, settings.lines.length)
  const facts = emptyFacts(settings)
  const judge = createJudge(settings)
  const judged = judge.initial()
  const weather = new Weather(physics, seed, startMs)
  const noise = new Random(seed, 'thermometers of a winter')
  const zero = { air: 0.2 * noise.normal(), line: 0.1 * noise.normal() }
  const watched: Watched[] = [watch('tank outlet', new Line(physics, weather.airC), startMs)]
  // Follows the air somewhat more slowly than its measures say.
  if (place === 'juniper-tap') {
    const tap = { ...physics, line: { followsH: 0.7, waterC: physics.line.waterC } }
    watched.push(watch('yard tap', new Line(tap, weather.airC), startMs))
  }
  const air = plan.index['air-temperature']
  const line = plan.index['line-temperature']
  const humidity = plan.index.humidity
  const panelV = plan.index['panel-voltage']
  const panelA = plan.index['panel-current']
  const panel = new Panel(physics)
  const found: Winter = { arrived: [], warnings: [], notices: 0, nights: [] }
  let notices = 0
  let cloudSum = 0
  let cloudN = 0
  let evening = state.cold.evening
  for (let at = startMs; at < startMs + days * DAY; at += STEP_MS) {
    weather.advance(at, STEP_MS / 1000, FREE)
    const hour = new Date(at + physics.longitudeDeg * 4 * MINUTE).getUTCHours()
    for (const one of watched)
      one.water.advance(STEP_MS / 1000, weather.airC, hour === DRAWS_AT_H && at % HOUR < HOUR / 2)
    if (weather.sunElevationDeg > 0) {
      cloudSum = 0
      cloudN = 0
    }
    cloudSum += weather.cloud
    cloudN += 1
    if (air !== undefined) take(plan, state, air, at, weather.airC + zero.air + 0.05 * noise.normal(), CALLS)
    if (line !== undefined) {
      take(plan, state, line, at, (watched[0]?.water.wallC ?? 0) + zero.line + 0.05 * noise.normal(), CALLS)
    }
    if (humidity !== undefined) take(plan, state, humidity, at, weather.humidityRh + 2 * noise.normal(), CALLS)
    if (panelV !== undefined && panelA !== undefined) {
      panel.advance(weather.panelKwM2)
      take(plan, state, panelV, at, panel.voltageV, CALLS)
      take(plan, state, panelA, at, panel.currentA, CALLS)
    }
    facts.at = at
    facts.airC = air === undefined ? null : state.airC
    lookAtCold(plan, state, at, facts)
    const outcome = judge.step(judged, { facts, modes: HOME, daemon: DAEMON_WELL, now: at + 10_000 })
    notices += outcome.notices.length
    for (const { alarm } of outcome.changes)
      if (alarm.id === 'freeze-risk') follow(watched, found, alarm.subject, alarm.cleared, at, facts.cold.tonight)
    const clear = cloudSum / cloudN <= 0.3
    for (const one of watched) arrive(one, found, at, clear, weather.airC)
    if (evening !== null && state.cold.evening !== evening && evening.saidMin !== null && evening.coldest !== null) {
      found.nights.push({ clear, error: evening.coldest - evening.saidMin })
    }
    evening = state.cold.evening
  }
  return { ...found, notices }
}

/** The panel as its board sees it: it gives what the battery still takes, and hides the rest of the sun. */
class Panel {
  voltageV = 0
  currentA = 0
  readonly #plan: SitePlan
  #storedWh: number

  constructor(plan: SitePlan) {
    this.#plan = plan
    this.#storedWh = 0.8 * this.#capacityWh
  }

  get #capacityWh(): number {
    return this.#plan.battery.capacityAh * this.#plan.battery.nominalV
  }

  /** Five minutes in this sun. House and pump together draw as an even load. */
  advance(panelKwM2: number): void {
    const { array, loads } = this.#plan
    const loadW = loads.standingW + loads.eveningW / 4 + PUMP_MEAN_W
    const couldW = array.ratedW * 0.92 * panelKwM2
    const hours = STEP_MS / HOUR
    const takesW = loadW + (this.#capacityWh - this.#storedWh) / hours
    const gaveW = Math.min(couldW, takesW)
    this.#storedWh = Math.max(0, Math.min(this.#capacityWh, this.#storedWh + (gaveW - loadW) * hours))
    this.voltageV = couldW < 0.5 ? 0 : array.openV - (array.openV - array.workingV) * (gaveW / couldW)
    this.currentA = couldW < 0.5 ? 0 : gaveW / this.voltageV
  }
}

function watch(name: string, water: Line, at: Ms): Watched {
  return { name, water, zeroAt: null, aboveSince: at - ANEW_MS, activeSince: null }
}

function follow(
  watched: readonly Watched[],
  found: Winter,
  name: string,
  cleared: Ms | null,
  at: Ms,
  tonight: Tonight | null,
): void {
  const one = watched.find((line) => line.name === name)
  if (one === undefined) return
  if (cleared === null && one.activeSince === null) {
    one.activeSince = at
    found.warnings.push({
      line: name,
      at,
      cleared: Number.POSITIVE_INFINITY,
      minC: one.water.waterC,
      airMinC: 99,
      evening: tonight?.evening ?? false,
      sky: tonight?.sky ?? null,
    })
  } else if (cleared !== null) {
    one.activeSince = null
    const last = found.warnings.findLast((warning) => warning.line === name)
    if (last !== undefined) last.cleared = at
  }
}

/** Notes a line that comes to 0 °C, and the coldest that followed each warning within its time, a day at least. */
function arrive(one: Watched, found: Winter, at: Ms, clear: boolean, airC: number): void {
  const { waterC } = one.water
  if (waterC <= 0) {
    if (one.zeroAt === null && at - one.aboveSince >= ANEW_MS) {
      const warnedMs = one.activeSince === null ? null : at - one.activeSince
      found.arrived.push({ line: one.name, at, clear, warnedMs, ice: 0 })
    }
    const last = found.arrived.findLast((arrived) => arrived.line === one.name)
    if (last !== undefined) last.ice = Math.max(last.ice, one.water.ice)
    one.zeroAt = at
  } else if (one.zeroAt !== null) {
    one.zeroAt = null
    one.aboveSince = at
  }
  for (const warning of found.warnings) {
    if (warning.line !== one.name || at > Math.max(warning.at + DAY, Math.min(warning.cleared, at))) continue
    if (waterC < warning.minC) warning.minC = waterC
    if (airC < warning.airMinC) warning.airMinC = airC
  }
}

/** Warnings as they are told: those of several lines within twelve hours are one message. The coldest of its lines, °C. */
function stories({ warnings }: Winter): number[] {
  const found: { readonly at: Ms; minC: number }[] = []
  for (const warning of warnings) {
    const last = found.at(-1)
    if (last !== undefined && warning.at - last.at <= 12 * HOUR) last.minC = Math.min(last.minC, warning.minC)
    else found.push({ at: warning.at, minC: warning.minC })
  }
  return found.map((one) => one.minC)
}

/** What was asked of the warnings, counted over winters. */
export function tally(winters: readonly Winter[]) {
  const arrived = winters.flatMap((one) => one.arrived)
  const clear = arrived.filter((one) => one.clear)
  const ahead = (list: readonly Arrived[]) =>
    list.filter((one) => one.warnedMs !== null && one.warnedMs >= 3 * HOUR).length
  const touched = clear.filter((one) => one.ice < TOUCHED_ICE)
  const first = clear.filter((one) => one.warnedMs === null || one.warnedMs < DAY)
  const warnings = winters.flatMap((one) => one.warnings)
  const needless = warnings.filter((one) => one.minC >= 1)
  const told = winters.flatMap(stories)
  const nights = winters.flatMap((one) => one.nights)
  const rms = (list: Winter['nights']) =>
    Math.sqrt(list.reduce((sum, one) => sum + one.error ** 2, 0) / Math.max(1, list.length))
  return {
    clear: clear.length,
    clearAhead: ahead(clear),
    touched: touched.length,
    touchedAhead: ahead(touched),
    first: first.length,
    firstAhead: ahead(first),
    arrived: arrived.length,
    arrivedAhead: ahead(arrived),
    warnings: warnings.length,
    needless: needless.length,
    told: told.length,
    toldNeedless: told.filter((one) => one >= 1).length,
    needlessAir: warnings.filter((one) => one.airMinC >= 1).length,
    notices: winters.reduce((sum, one) => sum + one.notices, 0),
    rmsClearC: rms(nights.filter((one) => one.clear)),
    rmsC: rms(nights),
  }
}
