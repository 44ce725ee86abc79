/**
 * A supply as it truly is, hour by hour and years long: sky, loads and battery of a place with a known horizon. Nothing
 * here is shared with what is tested but the row that the daemon would have stored and the clear sky in it.
 */
import { Random } from '../../../simulators/random.js'
import { clearSkyKwM2, onPanelKwM2, type SunPlace, sunPlace } from '../../../simulators/sun.js'
import { clearHour, courseOfDay } from '../../../src/infer/energy/clear.js'
import type { EnergyHour } from '../../../src/model/facts-balance.js'
import { DAY, HOUR, type Ms } from '../../../src/model/time.js'

export const LATITUDE = 39.2
export const LONGITUDE = -117.4
export const ARRAY_W = 440
export const BATTERY_AH = 100
const VOLTS = 24
const TILT = 45
const FACING = 180
const CONVERTER = 0.96
/** Wiring, heat and age. */
const ARRIVES = 0.88
/** Usable of the nameplate: nine tenths deep, nine tenths left of it when aged. */
const USABLE = 0.9 * 0.9
const KEPT = 0.95
const YEAR_DAYS = 365

export type Horizon = (azimuthDeg: number) => number

export type TruthOptions = {
  readonly seed: number
  readonly years: number
  readonly horizon?: Horizon
  /** Mean cloud of a winter's and of a summer's day, 0…1. */
  readonly winterCloud?: number
  readonly summerCloud?: number
}

/** The true course of sky, loads and cold. Hours of UTC from 1 January of 2001, years of 365 days. */
export type TrueCourse = {
  readonly start: Ms
  readonly hours: number
  /** What a watt of array could give in the hour, Wh at the panel. */
  readonly perW: Float32Array
  readonly loadWh: Float32Array
  readonly pumpWh: Float32Array
  readonly batteryC: Float32Array
}

const START = Date.UTC(2001, 0, 1)
/** Hour of UTC at which the sun's day begins at this longitude. */
const MIDNIGHT = 8

export function trueCourse(options: TruthOptions): TrueCourse {
  const hours = options.years * YEAR_DAYS * 24
  const course = {
    start: START,
    hours,
    perW: new Float32Array(hours),
    loadWh: new Float32Array(hours),
    pumpWh: new Float32Array(hours),
    batteryC: new Float32Array(hours),
  }
  const sky = new Random(options.seed, 'true sky')
  const life = new Random(options.seed, 'true life')
  const { winterCloud = 0.45, summerCloud = 0.3 } = options
  let slow = sky.normal()
  let cold = sky.normal()
  let own = 0
  let pumpHour = 0
  let pumpWh = 0
  for (let i = 0; i < hours; i += 1) {
    const dayOfYear = Math.floor(i / 24) % YEAR_DAYS
    const hour = (i - MIDNIGHT + 24) % 24
    if (i % (24 * 30) === 0) own = 0.09 * sky.normal()
    // Two days of memory, as the simulated sites have.
    slow += -slow / 48 + Math.sqrt(2 / 48) * sky.normal()
    cold += -cold / 72 + Math.sqrt(2 / 72) * sky.normal()
    const winter = 0.5 + 0.5 * Math.cos((2 * Math.PI * (dayOfYear - 5)) / YEAR_DAYS)
    const mean = summerCloud + (winterCloud - summerCloud) * winter + own
    const cloud = Math.max(0, Math.min(1, mean + 0.38 * slow + 0.12 * sky.normal()))
    const at = START + dayOfYear * DAY + (i % 24) * HOUR
    course.perW[i] = ARRIVES * panelHour(at, cloud, options.horizon)
    if (hour === 0) {
      pumpHour = 6 + life.below(14)
      pumpWh = 150 * Math.exp(0.35 * life.normal() - 0.06)
    }
    const evening = hour >= 18 && hour < 23 ? 45 : hour >= 6 && hour < 8 ? 18 : 4
    course.loadWh[i] = 12 + evening * life.between(0.7, 1.3)
    course.pumpWh[i] = hour === pumpHour ? pumpWh : 0
    course.batteryC[i] = 16 - 11 * (2 * winter - 1) + 3 * cold
  }
  return course
}

/** Sun on the panel over an hour, kWh/m². */
export function panelHour(at: Ms, cloud: number, horizon: Horizon | undefined): number {
  let sum = 0
  for (const part of [1 / 6, 3 / 6, 5 / 6]) {
    sum += panelMoment(sunPlace(at + part * HOUR, LATITUDE, LONGITUDE), cloud, horizon)
  }
  return sum / 3
}

/** Sun on the panel behind a horizon, kW/m²: the beam is stopped, most of the sky's light is not. */
export function panelMoment(sun: SunPlace, cloud: number, horizon: Horizon | undefined): number {
  const level = clearSkyKwM2(sun.elevationDeg) * (1 - 0.75 * cloud ** 3.4)
  if (level <= 0) return 0
  if (horizon === undefined || sun.elevationDeg >= horizon(sun.azimuthDeg)) {
    return onPanelKwM2(sun, level, cloud, TILT, FACING)
  }
  const diffuse = level * Math.min(1, 0.11 + 0.89 * cloud ** 1.5)
  return 0.8 * onPanelKwM2(sun, diffuse, 1, TILT, FACING)
}

export type TrueSupply = { readonly arrayW: number; readonly batteryAh: number }

/** Short days a year, days from midnight by the sun. */
export function trueShortDays(course: TrueCourse, { arrayW, batteryAh }: TrueSupply): number {
  const usable = batteryAh * VOLTS * USABLE
  let stored = 0.8 * usable
  let shortDays = 0
  let short = 0
  let asked = 0
  for (let i = MIDNIGHT; i < course.hours; i += 1) {
    const celsius = course.batteryC[i] ?? 15
    const capacity = usable / coldShare(celsius)
    const load = (course.loadWh[i] ?? 0) + (course.pumpWh[i] ?? 0)
    const balance = arrayW * (course.perW[i] ?? 0) * CONVERTER - load
    asked += load
    if (balance > 0) {
      if (celsius >= 0) stored = Math.min(capacity, stored + balance * KEPT)
    } else {
      stored = Math.min(capacity, stored) + balance
      if (stored < 0) {
        short -= stored
        stored = 0
      }
    }
    if ((i - MIDNIGHT) % 24 !== 23) continue
    if (short > 0.02 * asked) shortDays += 1
    short = 0
    asked = 0
  }
  return shortDays / (course.hours / (24 * YEAR_DAYS))
}

/** Lithium in the cold: a tenth less at freezing. */
function coldShare(celsius: number): number {
  return celsius >= 20 ? 1 : 1 + 0.006 * Math.min(40, 20 - celsius)
}

/** What a daemon would have stored of the present supply, from day `from` of the course for `days` days. */
export function storedHours(course: TrueCourse, from: number, days: number): readonly EnergyHour[] {
  const usable = BATTERY_AH * VOLTS * 0.95
  const place = { latitudeDeg: LATITUDE, longitudeDeg: LONGITUDE, elevationM: 1850 }
  const plane = { tiltDeg: TILT, azimuthDeg: FACING }
  const hours: EnergyHour[] = []
  let stored = 0.7 * usable
  for (let i = from * 24; i < (from + days) * 24; i += 1) {
    const at = course.start + i * HOUR
    const could = ARRAY_W * (course.perW[i] ?? 0)
    const load = course.loadWh[i] ?? 0
    const pump = course.pumpWh[i] ?? 0
    const wanted = (usable - stored) / KEPT + load + pump
    const gives = Math.min(could * CONVERTER, wanted)
    const held = could > 0 ? 1 - gives / (could * CONVERTER) : 0
    const battery = gives - load - pump
    stored = Math.max(0, stored + (battery > 0 ? battery * KEPT : battery))
    const clear = clearHour(courseOfDay(place, at), plane, at) * ARRAY_W
    hours.push({
      at,
      covered: 1,
      harvestWh: gives / CONVERTER,
      clearWh: clear,
      // Full within the hour: until then nothing held it back.
      freeWh: could * (1 - held),
      freeClearWh: clear * (1 - held),
      heldShare: held,
      pumpWh: pump,
      loadWh: load,
      chargeWh: Math.max(0, battery),
      dischargeWh: Math.max(0, -battery),
      batteryC: course.batteryC[i] ?? null,
      airC: (course.batteryC[i] ?? 0) - 5,
    })
  }
  return hours
}
