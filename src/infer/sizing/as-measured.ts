/** What stands there now, over the days as they were measured: its sun and its store against its load. */
import { cellIndex, stretchOf } from '../energy/shade.js'
import { DAY } from '../../model/time.js'
import { type LossOfLoad, lossOfLoad } from './loss-of-load.js'
import { type Setup, supplyOf } from './setup.js'
import { presentTable } from './tables.js'

/** In steps of a day; null where the battery's size is not known or no day is usable. */
export function asMeasured(setup: Setup): LossOfLoad | null {
  const { measured, shade, array, input, needs } = setup
  const ah = input.site.battery?.capacityAh ?? null
  if (ah === null || measured.days.length === 0) return null
  const table = presentTable(shade)
  const { usableWh } = supplyOf(setup, array.ratedW, ah)
  const generation = measured.days.map((day) => {
    const stretch = stretchOf(day.at + DAY / 2)
    let sum = 0
    day.clearness.forEach((k, i) => {
      if (!Number.isNaN(k)) sum += k * (table[cellIndex(stretch, (measured.midnightUtc + i) % 24)] ?? 0)
    })
    return sum * array.ratedW * input.converterShare
  })
  const load = measured.days.map((day) => sumOf(day.loadWh) + sumOf(day.pumpWh) * needs.pumpShare)
  if (load.every((wh) => wh === 0)) return null
  return lossOfLoad(generation, load, usableWh)
}

function sumOf(values: Float32Array): number {
  return values.reduce((sum, value) => sum + value, 0)
}
