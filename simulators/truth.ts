/** What really happened, as no sensor saw it: the measure that inferred cycles, days and alarms are held against. */
import type { EndReason } from '../src/model/fill.js'
import type { Ms } from '../src/model/time.js'
import type { FaultKind } from './fault-table.js'

/** One time that the pump was under power. */
export type TrueRun = {
  readonly start: Ms
  end: Ms
  /** Into the tank, and taken out of the well, litres. */
  deliveredL: number
  pumpedL: number
  /** Taken from the tank meanwhile by people, leaks and overflow. */
  drawnL: number
  /** At the battery's terminals (what battery-voltage times pump-current sees), and at the pump's own. */
  energyBatteryWh: number
  energyPumpWh: number
  readonly levelStartM: number
  levelEndM: number
  currentMeanA: number
  voltageMeanV: number
  /** Without the first 0.2 s. */
  voltageMinV: number
  /** First water into the tank, and since when none has come any more; null: never, or it still comes. */
  firstWaterAt: Ms | null
  waterStoppedAt: Ms | null
  endReason: EndReason
  /** Faults of the place that were active in this run. */
  faults: readonly FaultKind[]
}

/** One of the site's own calendar days, or the part of it that was simulated. */
export type TrueDay = {
  readonly date: string
  readonly start: Ms
  end: Ms
  pumpedL: number
  /** Drawn by people, faults' hoses included; leak and overflow apart. */
  usedL: number
  leakedL: number
  overflowL: number
  /** Runs that began on this day. */
  fills: number
  runS: number
  pumpWh: number
  /** From the panel, before the charger. */
  harvestWh: number
  batteryMinV: number
  batteryMaxV: number
  airMinC: number
  airMaxC: number
  lineMinC: number
}

export const MARKS = [
  'fault-began',
  'fault-ended',
  'called',
  'water-stopped',
  'no-water',
  'rotor-locked',
  'past-high',
  'overflowed',
  'below-reserve',
  'probes-contradict',
  'cut-off',
  'reconnected',
  'went-dark',
  'charge-low',
  'line-at-zero',
  'line-above-zero',
  'link-down',
  'link-up',
  'third-sagging-start',
  'charged-cold',
  'house-often',
  'house-runs',
] as const
export type MarkId = (typeof MARKS)[number]

/** A moment that an alarm's promptness counts from. `no-water`: the run's start, where none came within a minute or two. */
export type Mark = { readonly at: Ms; readonly what: MarkId; readonly detail: string }

export type Balance = {
  /** Tank, litres: start + pumped in = end + used + leaked + overflowed. */
  readonly tankStartL: number
  tankEndL: number
  pumpedL: number
  usedL: number
  leakedL: number
  overflowL: number
  /** Battery, Ah: start + in × kept = end + out + lost. */
  readonly storedStartAh: number
  storedEndAh: number
  inAh: number
  kept: number
  outAh: number
  lostAh: number
}

/** Grows while the messages are read; whole when they have been read to the end. */
export type Truth = {
  readonly site: string
  readonly start: Ms
  end: Ms
  readonly runs: TrueRun[]
  readonly days: TrueDay[]
  readonly marks: Mark[]
  /** Time of the latest message of each board. */
  readonly lastWord: Record<string, Ms>
  readonly balance: Balance
}

/** More marks than this are not kept, nor the same mark again so soon: a fault that flutters must not fill the memory. */
export const MARKS_MAX = 20_000
export const MARK_AGAIN_MS = 60_000
