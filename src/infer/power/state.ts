/** What is remembered of the battery's health and charge and of the array's harvest: plain data, some kilobytes. */
import type { SagFacts } from '../../model/facts-power.js'
import type { Ms } from '../../model/time.js'
import { createRing, type Ring } from '../ring.js'

/** Starts of the pump as the battery felt them. Times in days, resistances in ohms at 20 °C, both rounded to be small. */
export type SagState = {
  /** Start of the run that was looked at last. */
  doneAt: Ms
  day: number[]
  ohm: number[]
  /** Temperature of the battery, or of the air; null: not known. */
  celsius: (number | null)[]
  /** The last starts, those included that are not as usual: time, ohms, uncertainty of one. */
  lastT: Ms[]
  lastOhm: number[]
  lastSd: number[]
  lastC: number | null
  lastFrom: 'battery' | 'air' | null
  /** What the starts say, reckoned anew when one was measured. */
  facts: SagFacts | null
}

export type FullState = {
  full: boolean
  lastAt: Ms | null
  /** Start of the day under way, and seconds of it at absorption, floating, near full at a small current. */
  dayStart: Ms
  absorbS: number
  floatS: number
  nearS: number
  /** Seconds of daylight so far today, and in how many of them the voltage was known. */
  sunS: number
  seenS: number
  daysNot: number
}

export type ChargeState = {
  /** Ampere-seconds below full; null: it has not been full yet. */
  belowAs: number | null
  anchorAt: Ms
  inAs: number
  outAs: number
  gapS: number
  /** Mean discharge, A, and over how many seconds. */
  loadA: number
  loadS: number
  band: { low: number; high: number; at: Ms } | null
}

export type ArrayState = {
  /** Start of the ten minutes under way, and their sums over looks. */
  blockAt: Ms
  n: number
  w: number
  panelV: number
  batteryA: number
  batteryN: number
  /** Looks in which the battery could take what comes. */
  takes: number
  locked: number
  /** Of today. */
  dayStart: Ms
  noon: Ms
  blocks: number
  /** In hours of full rated power: what a clear sky would bring, and what came. */
  clearH: number
  gotH: number
  /** What thick cloud would bring in them. */
  cloudH: number
  /** Of the blocks that brought next to nothing: what a clear sky would bring, and the sums over them. */
  darkH: number
  darkSince: Ms | null
  voltsSum: number
  ampsSum: number
  ampsN: number
  /** The last blocks that counted: clear and got. */
  last: [number, number][]
  /** The panel's voltage while it works freely. */
  workV: number
  /** Directions from which sun was seen on the array: azimuth by 15°, height by 10°. */
  lit: number[]
  /** Ratios of the last days that were judged, their lowest and their median. */
  ratios: number[]
  lowest: number | null
  usual: number | null
}

export type PowerState = {
  /** The battery's own voltage, where the pump's is the one that energy is reckoned with. */
  volts: Ring
  amps: Ring
  ampT: Ms
  ampA: number
  /** The air, slowly followed: what a battery without a thermometer may have. */
  slowAirC: number | null
  lookAt: Ms
  sag: SagState
  full: FullState
  charge: ChargeState
  array: ArrayState
  coldSince: Ms | null
  lockedSince: Ms | null
}

/** Azimuth in steps of 15°, height in steps of 10° up to 70°. */
export const LIT_WIDE = 24
export const LIT_HIGH = 7

export function createSag(): SagState {
  return {
    doneAt: 0,
    day: [],
    ohm: [],
    celsius: [],
    lastT: [],
    lastOhm: [],
    lastSd: [],
    lastC: null,
    lastFrom: null,
    facts: null,
  }
}

export function createPower(): PowerState {
  return {
    volts: createRing(24),
    amps: createRing(24),
    ampT: 0,
    ampA: 0,
    slowAirC: null,
    lookAt: 0,
    sag: createSag(),
    full: {
      full: false,
      lastAt: null,
      dayStart: 0,
      absorbS: 0,
      floatS: 0,
      nearS: 0,
      sunS: 0,
      seenS: 0,
      daysNot: 0,
    },
    charge: {
      belowAs: null,
      anchorAt: 0,
      inAs: 0,
      outAs: 0,
      gapS: 0,
      loadA: 0,
      loadS: 0,
      band: null,
    },
    array: {
      blockAt: 0,
      n: 0,
      w: 0,
      panelV: 0,
      batteryA: 0,
      batteryN: 0,
      takes: 0,
      locked: 0,
      dayStart: 0,
      noon: 0,
      blocks: 0,
      clearH: 0,
      gotH: 0,
      cloudH: 0,
      darkH: 0,
      darkSince: null,
      voltsSum: 0,
      ampsSum: 0,
      ampsN: 0,
      last: [],
      workV: 0,
      lit: Array.from({ length: LIT_WIDE * LIT_HIGH }, () => 0),
      ratios: [],
      lowest: null,
      usual: null,
    },
    coldSince: null,
    lockedSince: null,
  }
}
