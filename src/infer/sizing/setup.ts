/** What a sizing is asked with, and what is worked out once before any size is tried. */
import type { EnergyHour } from '../../model/facts-balance.js'
import type { Day } from '../../model/fill.js'
import type { SiteSettings } from '../../model/settings.js'
import type { ArrayPlace } from '../energy/clear.js'
import type { Shade } from '../energy/shade.js'
import { batteryRules, coldMultiplier } from './battery-rules.js'
import type { Measured } from './measured.js'
import type { Course, Supply } from './simulate.js'
import { sunOf } from './tables.js'
import type { Drawn, YearMaker } from './years.js'

export type SizingInput = {
  readonly site: SiteSettings
  readonly hours: readonly EnergyHour[]
  readonly days: readonly Day[]
  /** Litres a day to lay it out for; null: the configured need, else what was used. */
  readonly needL: number | null
  /** Days a year on which it may fall short. */
  readonly shortDaysAllowed: number
  readonly converterShare: number
  readonly seed: number
  /** How many times the measured time is drawn anew, and how many years are lived through each time. */
  readonly draws?: number
  readonly yearsPerDraw?: number
}

export type Needs = {
  readonly usedL: number | null
  readonly needL: number | null
  /** The pump's measured energy is multiplied by this to bring the water that is needed. */
  readonly pumpShare: number
  readonly whPerL: number | null
}

export type Setup = {
  readonly input: SizingInput
  readonly array: ArrayPlace
  readonly shade: Shade
  readonly measured: Measured
  readonly needs: Needs
  readonly years: YearMaker
  readonly volts: number
}

/** A size as the simulation takes it: aged, and as deep as may be drawn every time. */
export function supplyOf(setup: Setup, arrayW: number, batteryAh: number): Supply {
  const { depth, efficiency, aged } = batteryRules(setup.input.site.battery?.chemistry ?? 'flooded')
  return { arrayW, usableWh: batteryAh * setup.volts * depth * aged, efficiency }
}

/** What a run changes of the drawn years before they are lived. */
export type Bend = {
  readonly table: Float64Array
  readonly pump?: (pumpWh: Float32Array) => Float32Array
  readonly batteryC?: (celsius: number) => number
}

const COLD_FROM_C = -40

/** Drawn years with the sun on the array, the pump as much as the need asks for, and the cold. */
export function courseOf(setup: Setup, drawn: Drawn, bend: Bend, sun: number): Course {
  const chemistry = setup.input.site.battery?.chemistry ?? 'flooded'
  const { noChargeBelowC } = batteryRules(chemistry)
  const cold = Float64Array.from({ length: 101 }, (_, i) => 1 / coldMultiplier(chemistry, COLD_FROM_C + i))
  const pump = bend.pump?.(drawn.pumpWh) ?? drawn.pumpWh
  const hours = drawn.cell.length
  const askedWh = new Float32Array(hours)
  const capacity = new Float32Array(hours)
  const takes = new Uint8Array(hours)
  for (let i = 0; i < hours; i += 1) {
    const measuredC = drawn.batteryC[i] ?? 20
    const celsius = bend.batteryC?.(measuredC) ?? measuredC
    askedWh[i] = (drawn.loadWh[i] ?? 0) + (pump[i] ?? 0) * setup.needs.pumpShare
    capacity[i] = cold[Math.max(0, Math.min(100, Math.round(celsius) - COLD_FROM_C))] ?? 1
    takes[i] = noChargeBelowC !== null && celsius < noChargeBelowC ? 0 : 1
  }
  const perW = sunOf(drawn, bend.table, setup.input.converterShare * sun)
  return { days: drawn.days, monthOf: drawn.monthOf, perW, askedWh, capacity, takes }
}
