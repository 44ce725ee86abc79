/** What `size` answers: options of array and battery for a place, and what the answer rests on. */
import type { Chemistry } from './settings.js'
import type { Ms } from './time.js'

export type SizeOption = {
  readonly arrayW: number
  readonly batteryAh: number
  /** Days a year on which some of the load could not be met: mean over the resampled years, and where it lies in 95 of 100. */
  readonly shortDaysPerYear: number
  readonly shortDaysCi95: readonly [number, number]
  /** 1…12: the month with most of them, or, where there are none, the one with the least to spare. */
  readonly worstMonth: number
  /** Energy short over energy asked for, 0…1. */
  readonly lossOfLoad: number
  /** What stands there now. */
  readonly present: boolean
}

export type SizeChange = {
  readonly change: 'clear-the-sun' | 'steeper' | 'pump-at-noon' | 'better-pump' | 'warm-battery'
  readonly words: string
  readonly shortDaysPerYear: number
  readonly shortDaysCi95: readonly [number, number]
}

export type SizeHand = {
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

export type SizeBasis = {
  readonly from: Ms | null
  readonly to: Ms | null
  readonly usableDays: number
  /** Of these the days on which a full battery held the array back. */
  readonly heldBackDays: number
  readonly missingDays: number
  /** 1…12. */
  readonly measuredMonths: readonly number[]
  /** Months filled from the months beside them, and months that no data covers. */
  readonly besideMonths: readonly number[]
  readonly uncoveredMonths: readonly number[]
  readonly loadWhPerDay: number | null
  readonly pumpWhPerDay: number | null
  readonly usedLPerDay: number | null
  /** Litres a day that the sizes are for. */
  readonly needLPerDay: number | null
  readonly loadFrom: 'measured' | 'balance' | 'none'
  /** What the open array gives of its rating under a clear sky, and what is left of it by shade over the year's clear sky. */
  readonly performance: number | null
  readonly shade: number | null
  readonly shadeByHour: readonly { readonly hourUtc: number; readonly transmission: number }[]
  readonly soiled: readonly {
    readonly from: Ms
    readonly to: Ms
    readonly share: number
    readonly kind: 'soiled' | 'covered'
  }[]
  /** Over the measured days: what the present array could have given over what was asked for, and the days in the battery. */
  readonly sunOverLoad: number | null
  readonly storedDays: number | null
  /** Days of the need in a tank that is full to its high mark. */
  readonly tankDays: number | null
  readonly chemistry: Chemistry | null
  readonly volts: number | null
  readonly depth: number | null
  readonly agedShare: number | null
  readonly years: number
}

export type SizeWire = {
  readonly awg: string
  readonly oneWayM: number
  readonly amperes: number
  readonly dropShare: number
}

export type SizingResult = {
  readonly site: string
  /** `range`: too little data for one answer, the options show how wide it is; `declined`: none at all, with the reason. */
  readonly verdict: 'answered' | 'range' | 'declined'
  readonly reason: string | null
  readonly shortDaysAllowed: number
  readonly basis: SizeBasis
  readonly options: readonly SizeOption[]
  /** The smallest that meets the need as far as is known, and the smallest that meets it at the worse end of its range. */
  readonly recommended: SizeOption | null
  readonly sure: SizeOption | null
  readonly changes: readonly SizeChange[]
  readonly hand: SizeHand | null
  readonly wire: SizeWire | null
  readonly cautions: readonly string[]
}
