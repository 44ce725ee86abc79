/** What a watt of array gives in each stretch of the year and hour under a clear sky here, as it is and as it could be. */
import { type ArrayPlace, clearHour, courseOfDay } from '../energy/clear.js'
import { cellIndex, type Shade, STRETCHES } from '../energy/shade.js'
import { DAY, HOUR, type Ms } from '../../model/time.js'
import type { Drawn } from './years.js'

/** As the array stands: clear sky × what arrives. Wh at the panel for each W, by cell. */
export function presentTable(shade: Shade): Float64Array {
  return Float64Array.from(shade.clear, (clear, i) => clear * (shade.cells[i]?.share ?? 0))
}

/** The same array without any shade. */
export function openTable(shade: Shade): Float64Array {
  return Float64Array.from(shade.clear, (clear) => clear * shade.performance)
}

/** The same shade with the array tilted otherwise. */
export function tiltedTable(shade: Shade, array: ArrayPlace, tiltDeg: number, year: Ms): Float64Array {
  const from = Date.UTC(new Date(year).getUTCFullYear(), 0, 1)
  const plane = { ...array.plane, tiltDeg }
  const table = new Float64Array(shade.clear.length)
  for (let stretch = 0; stretch < STRETCHES; stretch += 1) {
    const day = from + Math.floor(((stretch + 0.5) / STRETCHES) * 365.25) * DAY
    const course = courseOfDay(array.place, day)
    for (let hour = 0; hour < 24; hour += 1) {
      const index = cellIndex(stretch, hour)
      table[index] = clearHour(course, plane, day + hour * HOUR) * (shade.cells[index]?.share ?? 0)
    }
  }
  return table
}

/** The sun of drawn years on a watt of array, after the converter, Wh an hour. */
export function sunOf(drawn: Drawn, table: Float64Array, converterShare: number): Float32Array {
  const perW = new Float32Array(drawn.cell.length)
  for (let i = 0; i < perW.length; i += 1) {
    perW[i] = (table[drawn.cell[i] ?? 0] ?? 0) * (drawn.clearness[i] ?? 0) * converterShare
  }
  return perW
}

/** Hours from midnight by the sun in which a pump that waits for the sun would run. */
const NOON = [10, 11, 12, 13] as const

/** Each day's pumping put into the hours about noon. */
export function pumpAtNoon(pumpWh: Float32Array): Float32Array {
  const moved = new Float32Array(pumpWh.length)
  for (let from = 0; from < pumpWh.length; from += 24) {
    let sum = 0
    for (let i = 0; i < 24; i += 1) sum += pumpWh[from + i] ?? 0
    for (const hour of NOON) moved[from + hour] = sum / NOON.length
  }
  return moved
}
