/** What the battery's currents, temperatures and voltages say of its health and its charge. Null is unknown, never 0. */
import type { Ms } from './time.js'

/** The voltage's drop per ampere at starts of the pump, brought to 20 °C. Ohms. */
export type SagFacts = {
  /** Median of the last three starts that could be measured, and its standard uncertainty. */
  readonly ohm: number
  readonly sdOhm: number
  /** Robust centre and spread of the starts before that were as this site's are, and how many. */
  readonly usual: { readonly value: number; readonly sd: number; readonly starts: number }
  /** How much more than usual cold alone might explain, as the data go: 1 where the temperature is like the usual ones. */
  readonly doubt: number
  /** From which temperature it was brought to 20 °C; null: none is known, so that summer is compared with winter. */
  readonly temperatureFrom: 'battery' | 'air' | null
  /** Temperature at the latest of them. */
  readonly temperatureC: number | null
  /** When the first of the three was. */
  readonly since: Ms
  readonly lastAt: Ms
  /** Growth, ohms in 30 days, with its uncertainty; null: too few starts or days. */
  readonly trendOhm: { readonly value: number; readonly sd: number } | null
}

/** State of charge, 0…1, as far as it can be known. */
export type ChargeFacts = {
  /** By counting the charge since the battery was last full; null: only a band is known. */
  readonly share: number | null
  readonly sd: number | null
  /** What it lies between. */
  readonly low: number
  readonly high: number
  readonly by: 'counted' | 'voltage'
  /** When it was last full, or when the resting voltage was seen. */
  readonly from: Ms
}

export type CutOffFacts = {
  /** Hours to the cut-off at the present load, without sun, and what they lie between. */
  readonly hours: number
  readonly lowH: number
  readonly highH: number
  readonly by: 'counted' | 'voltage'
}

/** Harvest of one day in the hours in which the battery could take it and the sun is known to reach the array. */
export type ArrayFacts = {
  /** Hours so far today, and what a clear sky would have brought in them, in hours of full rated power. */
  readonly hours: number
  readonly clearH: number
  /** Harvest over that, 0…1; null: nothing to compare yet. */
  readonly ratio: number | null
  /** The ratio that thick cloud would bring in the same hours. */
  readonly cloudRatio: number | null
  /** The same over the last half hour. */
  readonly recentRatio: number | null
  /** Lowest and median of the days before, and of how many; a fresh site has none. */
  readonly lowestRatio: number | null
  readonly usualRatio: number | null
  readonly days: number
  /** Two hours past solar noon: the day can be judged. */
  readonly late: boolean
  /** First time today at which such an hour brought next to nothing. */
  readonly since: Ms | null
  /** Mean panel voltage meanwhile over its working voltage; null: not measured or not learned. */
  readonly voltsShare: number | null
  /** Net current of the battery meanwhile, A; null: not measured. */
  readonly batteryA: number | null
  /** Lowest air temperature of the last two days. */
  readonly coldestC: number | null
}

export type PowerFacts = {
  sag: SagFacts | null
  /** Median of the battery's current in the last minute, + charges. */
  batteryA: number | null
  /** Since when a lithium battery has been charged below 0 °C by more than a small current; null: it is not, or not known. */
  coldChargeSince: Ms | null
  /** What goes into it then, A, and whether that is measured at the battery or reckoned from the panel. */
  chargeA: number | null
  chargeMeasured: boolean
  /** Since when there has been light on the panels that a cold lithium battery does not take: its protection, no fault. */
  coldLockOutSince: Ms | null
  full: boolean
  lastFullAt: Ms | null
  /** Whole days seen since, in which it was not full. Days that were not seen do not count. */
  daysNotFull: number
  charge: ChargeFacts | null
  /** Mean discharge of the last day, A. */
  loadA: number | null
  cutOff: CutOffFacts | null
  /** Null: no array in the configuration, or nothing measures the panel. */
  array: ArrayFacts | null
}

export function emptyPowerFacts(): PowerFacts {
  return {
    sag: null,
    batteryA: null,
    coldChargeSince: null,
    chargeA: null,
    chargeMeasured: false,
    coldLockOutSince: null,
    full: false,
    lastFullAt: null,
    daysNotFull: 0,
    charge: null,
    loadA: null,
    cutOff: null,
    array: null,
  }
}
