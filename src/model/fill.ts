import type { Ms } from './time.js'

export const END_REASONS = ['full', 'power-lost', 'dry', 'stalled', 'manual', 'unknown'] as const
export type EndReason = (typeof END_REASONS)[number]

/** A figure and its standard uncertainty (GUM, JCGM 100), in the same unit; null where it is not known. */
export type Figure = { readonly value: number; readonly sd: number }

/** One run of the well pump. SI and the units named; null is unknown, never 0. */
export type FillCycle = {
  readonly start: Ms
  readonly end: Ms
  readonly durationS: number
  readonly durationSdS: number
  /** What the pump delivered, draw during the fill included, litres. */
  readonly volumeL: Figure | null
  readonly energyWh: Figure | null
  readonly flowLMin: Figure | null
  readonly whPerL: Figure | null
  readonly currentMeanA: number | null
  readonly voltageMeanV: number | null
  readonly voltageMinV: number | null
  /** Levels at both ends, m, where a level sensor is there. */
  readonly levelStartM: number | null
  readonly levelEndM: number | null
  /** Seconds from the start until water was seen to arrive; null: not measured. */
  readonly firstRiseS: number | null
  readonly endReason: EndReason
  /** False where a gap or a fault makes the figures unfit for trends. */
  readonly complete: boolean
}

/** One of the site's own calendar days. */
export type Day = {
  /** YYYY-MM-DD in the site's time zone. */
  readonly date: string
  readonly start: Ms
  readonly end: Ms
  readonly pumpedL: Figure | null
  readonly usedL: Figure | null
  readonly fills: number
  readonly runS: number
  readonly pumpWh: Figure | null
  readonly whPerL: Figure | null
  readonly batteryMinV: number | null
  readonly batteryMaxV: number | null
  readonly harvestWh: number | null
  readonly airMinC: number | null
  readonly airMaxC: number | null
  /** Share of the day with data, 0…1. */
  readonly covered: number
}
