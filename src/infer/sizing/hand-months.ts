/** The months as the hand method wants them: mean load, mean hours of full sun on the array, how cold the battery was. */
import { STRETCHES } from '../energy/shade.js'
import { type HandMonth, type HandSize, handSize } from './hand.js'
import type { Setup } from './setup.js'

/** Months before any day is usable take this of the clear sky [common practice, mean of a year]. */
const CLEARNESS_UNKNOWN = 0.65
/** Wiring, converter and age; the array's own losses are in its measured performance. */
const DERATE = 0.9

export function handMonths(setup: Setup): readonly HandMonth[] {
  const { measured, shade, needs } = setup
  const { days } = measured
  if (days.length === 0) return []
  const sky = meanOf(days.map((day) => skyOf(day.clearness)).filter((mean) => !Number.isNaN(mean))) ?? CLEARNESS_UNKNOWN
  const load = (list: typeof days): number | null =>
    meanOf(list.map((day) => sumOf(day.loadWh) + sumOf(day.pumpWh) * needs.pumpShare))
  return Array.from({ length: 12 }, (_, month) => {
    const own = days.filter((day) => day.month === month)
    const ownSky = meanOf(own.map((day) => skyOf(day.clearness)).filter((mean) => !Number.isNaN(mean)))
    const sunHours = clearHoursOf(setup, month) * (own.length >= 10 && ownSky !== null ? ownSky : sky)
    return {
      month: month + 1,
      loadWh: (own.length >= 10 ? load(own) : load(days)) ?? 0,
      sunHours: sunHours / Math.max(0.2, shade.performance),
      batteryC: measured.temperatureFrom === 'none' ? null : meanOf(own.map((day) => sumOf(day.batteryC) / 24)),
    }
  })
}

/** The hand method's answer for this place; null where nothing is known of its loads. */
export function handFor(setup: Setup): HandSize | null {
  const { battery } = setup.input.site
  if (battery === null) return null
  const derate = DERATE * setup.shade.performance * setup.input.converterShare
  return handSize(handMonths(setup), derate, battery.chemistry, setup.volts)
}

/** Power per watt over a day of this month under a clear sky, shade and losses counted in, Wh. */
function clearHoursOf(setup: Setup, month: number): number {
  let sum = 0
  for (const stretch of [2 * month, 2 * month + 1]) {
    for (let hour = 0; hour < 24; hour += 1) {
      const index = (stretch % STRETCHES) * 24 + hour
      sum += (setup.shade.clear[index] ?? 0) * (setup.shade.cells[index]?.share ?? 0)
    }
  }
  return sum / 2
}

/** Mean clearness by day, NaN where it has none. */
function skyOf(clearness: Float32Array): number {
  let sum = 0
  let n = 0
  for (let i = 6; i < 18; i += 1) {
    const k = clearness[i] ?? Number.NaN
    if (Number.isNaN(k)) continue
    sum += k
    n += 1
  }
  return n === 0 ? Number.NaN : sum / n
}

function sumOf(values: Float32Array): number {
  return values.reduce((sum, value) => sum + value, 0)
}

function meanOf(values: readonly number[]): number | null {
  return values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length
}
