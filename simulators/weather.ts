/**
 * Sky and air, advanced once a minute. Clouds: a slow drift of days and a quick one of minutes. Air: a parcel that
 * the sun warms, a clear night sky cools, and the mass of air around (season and passing weather) pulls back.
 */
import { DAY, HOUR, MINUTE, type Ms } from '../src/model/time.js'
import type { Effects } from './effects.js'
import type { SitePlan } from './plan.js'
import { Random } from './random.js'
import { clearSkyKwM2, onPanelKwM2, sunPlace } from './sun.js'

/** The air comes back to its mass within this time. */
const RELAX_H = 7
/** °C an hour for each kW/m² of sun on level ground. */
const SUN_WARMS = 5.2
/** Days of the slow drifts of cloud and of the mass of air. */
const SLOW_D = 2
const QUICK_MIN = 12
/** Spread of the dew point below the mass of air, and how far a wholly clouded sky brings it nearer, °C. */
const MOIST_C = 2
const CLOUD_MOIST_C = 5
/** Full cloud lets a quarter of the sun through (Kasten and Czeplak 1980: 1 − 0.75·N^3.4). */
const CLOUD_TAKES = 0.75

export class Weather {
  airC: number
  /** Of the mass of air; never above its temperature as it is now. */
  dewPointC: number
  /** Share of the sky that is clouded, 0…1. */
  cloud: number
  /** Sun on the panel and on level ground, kW/m². */
  panelKwM2 = 0
  levelKwM2 = 0
  sunElevationDeg = 0
  readonly #plan: SitePlan
  readonly #random: Random
  readonly #moistRandom: Random
  #moist: number
  #slowCloud: number
  #quickCloud = 0
  #massC = 0

  constructor(plan: SitePlan, seed: number, startMs: Ms) {
    this.#plan = plan
    this.#random = new Random(seed, 'weather')
    this.#moistRandom = new Random(seed, 'moisture')
    this.#moist = this.#moistRandom.normal()
    this.#slowCloud = this.#random.normal()
    this.#massC = 3 * this.#random.normal()
    this.cloud = plan.climate.cloud
    this.airC = this.#seasonC(startMs) + this.#massC
    this.dewPointC = this.airC - plan.climate.dewBelowC
    // Two days of running in, so that the first hour already is an hour of such a day.
    const still = { airMassC: Number.NaN, cloud: Number.NaN }
    for (let at = startMs - 2 * DAY; at < startMs; at += 10 * MINUTE) this.advance(at, 600, still)
  }

  /** Moves on by `seconds` from `at`; a fault may force the mass of air or the cloud. */
  advance(at: Ms, seconds: number, forced: Pick<Effects, 'airMassC' | 'cloud'>): void {
    const { climate, latitudeDeg, longitudeDeg, array } = this.#plan
    this.#drift(seconds)
    const free = climate.cloud + 0.38 * this.#slowCloud + 0.15 * this.#quickCloud
    this.cloud = Number.isNaN(forced.cloud) ? Math.max(0, Math.min(1, free)) : forced.cloud
    const sun = sunPlace(at, latitudeDeg, longitudeDeg)
    this.sunElevationDeg = sun.elevationDeg
    this.levelKwM2 = clearSkyKwM2(sun.elevationDeg) * (1 - CLOUD_TAKES * this.cloud ** 3.4)
    this.panelKwM2 = onPanelKwM2(sun, this.levelKwM2, this.cloud, array.tiltDeg, array.facingDeg)
    const massC = Number.isNaN(forced.airMassC) ? this.#seasonC(at) + this.#massC : forced.airMassC
    const coolsCH = (climate.nightDropC / RELAX_H) * (1 - 0.8 * this.cloud)
    const rateCH = SUN_WARMS * this.levelKwM2 - coolsCH + (massC - this.airC) / RELAX_H
    this.airC += (rateCH * seconds) / 3_600
    // Cloudy air is moist air; within a mass of air the dew point keeps while the temperature swings.
    const belowC = Math.max(1, climate.dewBelowC + MOIST_C * this.#moist - CLOUD_MOIST_C * (this.cloud - climate.cloud))
    this.dewPointC = Math.min(this.airC, massC - belowC)
  }

  /** %RH over water, by the Magnus form (coefficients of WMO-No. 8: 17.62 and 243.12 °C). */
  get humidityRh(): number {
    const magnus = (c: number) => (17.62 * c) / (243.12 + c)
    return 100 * Math.exp(magnus(this.dewPointC) - magnus(this.airC))
  }

  #drift(seconds: number): void {
    const slow = (seconds * 1_000) / (SLOW_D * DAY)
    const quick = Math.min(1, seconds / (QUICK_MIN * 60))
    this.#slowCloud += -slow * this.#slowCloud + Math.sqrt(2 * slow) * this.#random.normal()
    this.#massC += -slow * this.#massC + 3 * Math.sqrt(2 * slow) * this.#random.normal()
    this.#moist += -slow * this.#moist + Math.sqrt(2 * slow) * this.#moistRandom.normal()
    this.#quickCloud += -quick * this.#quickCloud + Math.sqrt(2 * quick) * this.#random.normal()
  }

  /** Mean air of the season: warmest in the last third of July. */
  #seasonC(at: Ms): number {
    const { yearMeanC, yearSwingC } = this.#plan.climate
    const year = 365.2425 * 24 * HOUR
    const warmest = Date.UTC(2000, 6, 22)
    return yearMeanC + yearSwingC * Math.cos((2 * Math.PI * (at - warmest)) / year)
  }
}
