/**
 * The hand method of the stand-alone handbooks (IEEE Std 1562, Sandia SAND87-7023, in their general form): array by the
 * worst month's load over its hours of full sun and a derating; battery by days of autonomy over the depth of discharge.
 */
import type { Chemistry } from '../../model/settings.js'
import { batteryRules, coldMultiplier } from './battery-rules.js'

/** Array power, W, for a daily load (Wh), hours of full sun a day, and the share that arrives (0…1). */
export function arrayForLoad(loadWh: number, sunHours: number, derate: number): number {
  return loadWh / (sunHours * derate)
}

/** Battery capacity, Wh, that carries `days` of a daily load (Wh) down to `depth` (0…1), enlarged by `cold` (1…). */
export function storageForLoad(loadWh: number, days: number, depth: number, cold = 1): number {
  return ((loadWh * days) / depth) * cold
}

/** The same in Ah at the battery's voltage. */
export function ampereHours(wattHours: number, volts: number): number {
  return wattHours / volts
}

export type HandMonth = {
  /** 1…12. */
  readonly month: number
  readonly loadWh: number
  /** Hours of full sun a day on the array, shade counted in. */
  readonly sunHours: number
  readonly batteryC: number | null
}

export type HandSize = {
  readonly month: number
  readonly loadWh: number
  readonly sunHours: number
  readonly derate: number
  readonly autonomyDays: number
  readonly depth: number
  readonly cold: number
  readonly arrayW: number
  readonly batteryAh: number
}

/** Days without sun that a place which is no emergency station is laid out for [common practice]. */
const AUTONOMY_DAYS = 4

/** The worst month is the one that asks for the largest array. Null without any month. */
export function handSize(
  months: readonly HandMonth[],
  derate: number,
  chemistry: Chemistry,
  volts: number,
): HandSize | null {
  let worst: HandMonth | null = null
  for (const month of months) {
    if (month.sunHours <= 0 || month.loadWh <= 0) continue
    if (worst === null || month.loadWh / month.sunHours > worst.loadWh / worst.sunHours) worst = month
  }
  if (worst === null) return null
  const { depth } = batteryRules(chemistry)
  const cold = worst.batteryC === null ? 1 : coldMultiplier(chemistry, worst.batteryC)
  const storageWh = storageForLoad(worst.loadWh, AUTONOMY_DAYS, depth, cold)
  return {
    month: worst.month,
    loadWh: worst.loadWh,
    sunHours: worst.sunHours,
    derate,
    autonomyDays: AUTONOMY_DAYS,
    depth,
    cold,
    arrayW: arrayForLoad(worst.loadWh, worst.sunHours, derate),
    batteryAh: ampereHours(storageWh, volts),
  }
}
