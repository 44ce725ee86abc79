/** Use of water, water that goes where nobody draws it, and how long the tank's water has stood: facts at one look. */
import type { Ms } from './time.js'

/** A usual amount a day: robust centre and spread over so many whole days. */
export type UsualDay = { readonly valueL: number; readonly sdL: number; readonly days: number }

/** Water that left the tank without a pump or a draw to explain it. */
export type Fall = {
  /** Start of the stretch that shows it, event time, and its length. */
  readonly since: Ms
  readonly hours: number
  readonly rateLH: number
  readonly rateSdLH: number
}

/** A fall that is still going on. */
export type SteadyFall = Fall & {
  /** The whole stretch lies in the hours in which this household draws least. */
  readonly inQuietHours: boolean
  /** No draw was seen in it. */
  readonly drawless: boolean
}

/** Draw from one full tank to the next call for water, with probes only. */
export type FillInterval = {
  readonly from: Ms
  readonly to: Ms
  readonly litres: number
  readonly inQuietHours: boolean
}

export type LossFacts = {
  /** Drawn since local midnight, and on the last whole day; null: not known. */
  usedTodayL: number | null
  usedYesterdayL: number | null
  usualDayL: UsualDay | null
  /** Usual draw in this hour of the week. */
  usualNowLH: number | null
  /** Drawn over the last hours, litres per hour. */
  presentLH: number | null
  /** First and last hour of the day (0…24, local) in which least is drawn, and the usual loss in them; null: not learned. */
  quietFromH: number
  quietToH: number
  quietLH: number | null
  /** How long the water lasts at the present use and the usual hours, if more or less is drawn than expected. */
  hoursLeftLow: number | null
  hoursLeftHigh: number | null
  /** When a draw was last seen to begin or end; null: none seen, or the sensor is too coarse to see one. */
  lastDrawAt: Ms | null
  /** Nobody has drawn for so long that nobody seems to be there; null: cannot be told. */
  seemsEmpty: boolean | null
  /** Days in which the stored water was drawn once; the usual of it; whether it is more than what could be counted. */
  turnoverDays: number | null
  usualTurnoverDays: number | null
  turnoverAtLeast: boolean
  /** Falls without a break at rest; more than 200 l/h without a break; night after night; against the same hour of the day before. */
  steady: SteadyFall | null
  big: SteadyFall | null
  nightly: (Fall & { readonly nights: number }) | null
  sameHour: Fall | null
  /** The longest unbroken draw above 200 l/h that ended by itself, min: a hose or a garden. */
  longestDrawMin: number
  interval: FillInterval | null
  /** What was lost has stopped: long enough at rest without a fall that this sensor can show. */
  tight: boolean
}

export function nothingLost(): LossFacts {
  return {
    usedTodayL: null,
    usedYesterdayL: null,
    usualDayL: null,
    usualNowLH: null,
    presentLH: null,
    quietFromH: 0,
    quietToH: 5,
    quietLH: null,
    hoursLeftLow: null,
    hoursLeftHigh: null,
    lastDrawAt: null,
    seemsEmpty: null,
    turnoverDays: null,
    usualTurnoverDays: null,
    turnoverAtLeast: false,
    steady: null,
    big: null,
    nightly: null,
    sameHour: null,
    longestDrawMin: 0,
    interval: null,
    tight: false,
  }
}
