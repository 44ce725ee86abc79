/** The balance of energy: one row an hour, and what a look says of it. Null is unknown, never 0. */
import type { Ms } from './time.js'

/** One whole hour of UTC. Energies in Wh; what was measured over at least four fifths of the hour is scaled to all of it. */
export type EnergyHour = {
  /** Start of the hour. */
  readonly at: Ms
  /** Share of the hour in which panel, battery and pump were all heard, 0…1. */
  readonly covered: number
  /** What the array gave, at the panel's terminals. */
  readonly harvestWh: number | null
  /** What its rated power would have given under a clear sky without any shade. */
  readonly clearWh: number | null
  /** The same two for those minutes only in which nothing held the array back; not scaled. */
  readonly freeWh: number | null
  readonly freeClearWh: number | null
  /** Share of the sunlit part of the hour in which a full battery (or a cold one) held the array back. */
  readonly heldShare: number | null
  /** What the pump took, and everything else together. */
  readonly pumpWh: number | null
  readonly loadWh: number | null
  /** Into and out of the battery. */
  readonly chargeWh: number | null
  readonly dischargeWh: number | null
  readonly batteryC: number | null
  readonly airC: number | null
}

/** Of the last 24 whole hours, as far as they are known; a figure is null where more than 4 of them are missing. */
export type BalanceFacts = {
  /** True while the array is held back; null: not known, or the sun is down. */
  heldBack: boolean | null
  /** What the rated array would give now under a clear sky without shade, W. */
  clearSkyW: number | null
  harvestWh: number | null
  clearWh: number | null
  pumpWh: number | null
  loadWh: number | null
  /** Lost between panel and battery, and how much of the panel's power arrives, learned (0…1). */
  converterLossWh: number | null
  converterShare: number
}

export function emptyBalanceFacts(): BalanceFacts {
  return {
    heldBack: null,
    clearSkyW: null,
    harvestWh: null,
    clearWh: null,
    pumpWh: null,
    loadWh: null,
    converterLossWh: null,
    converterShare: 0.95,
  }
}
