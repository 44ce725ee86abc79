/** What cheap sensors make of the truth: gain, zero, drift with temperature, noise, resolution, failure values. */
import type { Ms } from '../src/model/time.js'
import { INRUSH_MS } from './well-and-pump.js'
import { Random } from './random.js'
import type { World } from './world.js'

export type LevelSensor = 'pressure' | 'ultrasonic'

/** Standard deviations of one reading, and the step of its last digit. */
const NOISE = {
  levelM: 0.002,
  voltageV: 0.01,
  currentA: 0.02,
  temperatureC: 0.05,
  pressurePa: 1_200,
  humidityRh: 0.4,
} as const
const STEP = {
  levelM: 0.001,
  voltageV: 0.01,
  currentA: 0.01,
  temperatureC: 0.0625,
  pressurePa: 500,
  humidityRh: 0.1,
} as const
/** A data sheet's ± 1 cm, evenly spread: its sd is a/√3 (GUM 4.3.7). */
const ULTRASONIC_NOISE_M = 0.0058
/** An ultrasonic sensor looks down from this far above the overflow. */
const ABOVE_FULL_M = 0.25
/** Speed of sound, relative for each °C (0.6 m/s of 339). */
const SOUND_PER_C = 0.00177
/** Full scale of a 16-bit converter. */
const RAIL = 65_535

export class Sensors {
  readonly #world: World
  readonly #random: Random
  readonly #house: Random
  readonly #moist: Random
  readonly #houseAsMade: { readonly gain: number; readonly zeroA: number; readonly humidity: number }
  readonly #levelKind: LevelSensor
  readonly #gain: Readonly<Record<'level' | 'battery' | 'current' | 'charge' | 'panel', number>>
  readonly #zero: Readonly<Record<'level' | 'current' | 'charge' | 'air' | 'line' | 'case', number>>
  readonly #levelNoiseM: number
  #well: Random | null = null
  #stuckAt: number | null = null
  #stuckV: number | null = null

  constructor(world: World, seed: number, levelKind: LevelSensor, levelNoiseM?: number) {
    this.#world = world
    this.#levelNoiseM = levelNoiseM ?? (levelKind === 'ultrasonic' ? ULTRASONIC_NOISE_M : NOISE.levelM)
    this.#random = new Random(seed, 'sensors')
    this.#levelKind = levelKind
    this.#house = new Random(seed, 'house sensors')
    this.#moist = new Random(seed, 'humidity sensor')
    const { gain: houseGain, zeroA } = { gain: 1 + 0.01 * this.#house.normal(), zeroA: 0.03 * this.#house.normal() }
    this.#houseAsMade = { gain: houseGain, zeroA, humidity: 2 * this.#moist.normal() }
    const made = new Random(seed, 'sensors as made')
    const gain = (sd: number) => 1 + sd * made.normal()
    this.#gain = {
      level: gain(0.003),
      battery: gain(0.002),
      current: gain(0.005),
      charge: gain(0.005),
      panel: gain(0.005),
    }
    const zero = (sd: number) => sd * made.normal()
    this.#zero = {
      level: zero(0.003),
      current: zero(0.03),
      charge: zero(0.02),
      air: zero(0.2),
      line: zero(0.1),
      case: zero(0.2),
    }
  }

  /** Level in m; NaN: no number; the failure values of the fault that is on. */
  levelM(): number {
    const { effects } = this.#world
    if (effects.levelFailShare > 0 && this.#random.chance(effects.levelFailShare)) {
      if (effects.levelFails === 'nan') return Number.NaN
      return effects.levelFails === 'rail' ? RAIL : this.#random.chance(0.5) ? 0 : 3.999
    }
    const reading = this.#round(this.#trueLevelM() + this.#levelNoiseM * this.#random.normal(), STEP.levelM)
    if (!effects.levelStuck) this.#stuckAt = null
    else this.#stuckAt ??= reading
    return this.#round((this.#stuckAt ?? reading) * effects.levelScale, STEP.levelM)
  }

  pumpA(at: Ms): number {
    const { pump, weather, effects } = this.#world
    const runningA = effects.currentDead ? 0 : pump.currentA
    const trueA = !effects.currentDead && pump.on && at - pump.onSince < INRUSH_MS ? pump.inrushA : runningA
    const zero = this.#zero.current + effects.currentZeroA + 0.001 * (weather.airC - 15)
    return this.#round(trueA * this.#gain.current + zero + NOISE.currentA * this.#random.normal(), STEP.currentA)
  }

  batteryV(at: Ms): number {
    const { battery, pump, effects } = this.#world
    if (effects.voltageDead) return 0
    const dips = pump.on && at - pump.onSince < INRUSH_MS
    const trueV = dips ? battery.voltageUnderExtra(pump.inrushA - pump.currentA) : battery.voltageV
    const reading = this.#round(trueV * this.#gain.battery + NOISE.voltageV * this.#random.normal(), STEP.voltageV)
    if (!effects.voltageStuck) this.#stuckV = null
    else this.#stuckV ??= reading
    return this.#round((this.#stuckV ?? reading) * effects.voltageScale, STEP.voltageV)
  }

  batteryA(): number {
    const reading = this.#world.battery.currentA * this.#gain.charge + this.#zero.charge
    return this.#round(reading + NOISE.currentA * this.#random.normal(), STEP.currentA)
  }

  panelV(): number {
    const noise = NOISE.voltageV * this.#random.normal()
    return Math.max(0, this.#round(this.#world.battery.panelV * this.#gain.panel + noise, STEP.voltageV))
  }

  panelA(): number {
    const noise = NOISE.currentA * this.#random.normal()
    return this.#round(this.#world.battery.panelA * this.#gain.panel + noise, STEP.currentA)
  }

  housePumpA(): number {
    const trueA = this.#world.house.currentA + this.#houseAsMade.zeroA
    return this.#round(trueA + NOISE.currentA * this.#house.normal(), STEP.currentA)
  }

  housePa(): number {
    const truePa = this.#world.house.pressurePa * this.#houseAsMade.gain
    return this.#round(truePa + NOISE.pressurePa * this.#house.normal(), STEP.pressurePa)
  }

  humidityRh(): number {
    const { humidity } = this.#houseAsMade
    const says = this.#world.weather.humidityRh + humidity + NOISE.humidityRh * this.#moist.normal()
    return Math.max(0, Math.min(100, this.#round(says, STEP.humidityRh)))
  }

  /** From now on the well's level is measured; its noise is a stream of its own, so that nothing else shifts. */
  watchWell(seed: number): void {
    this.#well = new Random(seed, 'well sensor')
  }

  /** Water above the intake, m; null: no such sensor. */
  wellM(): number | null {
    if (this.#well === null) return null
    return this.#round(this.#world.well.waterM + 0.01 * this.#well.normal(), STEP.levelM)
  }

  airC(): number {
    const says = this.#temperature(this.#world.weather.airC + this.#zero.air)
    return this.#world.effects.airFahrenheit ? fahrenheit(says) : says
  }

  lineC(): number {
    const { effects } = this.#world
    if (effects.thermometerFailShare > 0 && this.#random.chance(effects.thermometerFailShare)) {
      return effects.thermometerSays
    }
    const says = this.#temperature(this.#world.line.wallC + this.#zero.line)
    return effects.lineFahrenheit ? fahrenheit(says) : says
  }

  batteryC(): number {
    return this.#temperature(this.#world.battery.temperatureC + this.#zero.case)
  }

  #trueLevelM(): number {
    const { levelM, plan, weather } = this.#world
    if (this.#levelKind === 'pressure') return levelM * this.#gain.level + this.#zero.level
    const gapM = plan.tank.fullM + ABOVE_FULL_M - levelM
    return levelM + this.#zero.level + gapM * SOUND_PER_C * (weather.airC - 15)
  }

  #temperature(value: number): number {
    return this.#round(value + NOISE.temperatureC * this.#random.normal(), STEP.temperatureC)
  }

  #round(value: number, step: number): number {
    return Math.round(Math.round(value / step) * step * 10_000) / 10_000
  }
}

function fahrenheit(celsius: number): number {
  return Math.round((celsius * 1.8 + 32) * 100) / 100
}
