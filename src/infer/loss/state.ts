/** What the engine remembers of use and loss: five-minute means of the tank, hours and days of use, nights. */
import { type LossFacts, nothingLost } from '../../model/facts-loss.js'
import type { Ms } from '../../model/time.js'

export type LossState = {
  /** The five-minute bin under way: its number since the epoch, sum and count of levels, whether the pump ran in it. */
  bin: number
  sum: number
  n: number
  ran: boolean
  /** Readings that a bin usually has. */
  usualN: number
  /**
   * Bins that are full: the number of the first, then volumes in tenths of a litre; −1 − volume where the pump ran,
   * null where nothing was read.
   */
  first: number
  bins: (number | null)[]
  /** The last bin at rest from which the account of use goes on, its volume, and what was pumped since (null: not known). */
  fromBin: number | null
  fromL: number
  pumpedL: number | null
  pumpedVar: number
  /** Fills of the last day: litres (null: not known), variance. */
  fills: { start: Ms; end: Ms; litres: number | null; variance: number }[]
  /** The local day under way. */
  dayStart: Ms
  dayOfWeek: number
  hours: number[]
  knownH: number
  /** Whole days, newest last: when they began, litres used, hours known. */
  dayStarts: Ms[]
  dayUsedL: number[]
  dayKnownH: number[]
  /** Usual litres by hour of the week (168), and by hour of workday and weekend (48), each with how often seen. */
  week: number[]
  weekN: number[]
  plain: number[]
  plainN: number[]
  /** First hour of the quiet hours. */
  quietFromH: number
  /** Nights, newest last: loss in the quiet hours, l/h, its sd, 1 where it stood out, 2 where it did so evenly. */
  nightT: Ms[]
  nightLH: number[]
  nightSd: number[]
  nightOdd: number[]
  /** Rises at rest, which no water makes: the lowest volume of this rest, the day's largest rise, and the last days'. */
  restLowL: number | null
  riseL: number
  rises: number[]
  /** Air temperature by the hour, tenths of a degree; number of the first hour since the epoch. */
  airHour: number
  air: (number | null)[]
  lastDrawAt: Ms | null
  /** Start of an unbroken draw above 200 l/h, and the longest that ended, with its time. */
  bigSince: Ms | null
  longestMin: number
  longestAt: Ms
  /** Probes only: when the tank was last full. */
  fullAt: Ms | null
  /** Rate of the newest loss that was shown, l/h; what the all-clear is measured by. */
  shownLH: number
  shownAt: Ms
  /** Projection of the water left, hours, as of a moment. */
  leftAt: Ms
  leftH: number | null
  /** What is said until the next bin closes. */
  facts: LossFacts
}

export function createLoss(): LossState {
  return {
    bin: 0,
    sum: 0,
    n: 0,
    ran: false,
    usualN: 0,
    first: 0,
    bins: [],
    fromBin: null,
    fromL: 0,
    pumpedL: 0,
    pumpedVar: 0,
    fills: [],
    dayStart: 0,
    dayOfWeek: 0,
    hours: Array.from({ length: 24 }, () => 0),
    knownH: 0,
    dayStarts: [],
    dayUsedL: [],
    dayKnownH: [],
    week: Array.from({ length: 168 }, () => 0),
    weekN: Array.from({ length: 168 }, () => 0),
    plain: Array.from({ length: 48 }, () => 0),
    plainN: Array.from({ length: 48 }, () => 0),
    quietFromH: 0,
    nightT: [],
    nightLH: [],
    nightSd: [],
    nightOdd: [],
    restLowL: null,
    riseL: 0,
    rises: [],
    airHour: 0,
    air: [],
    lastDrawAt: null,
    bigSince: null,
    longestMin: 0,
    longestAt: 0,
    fullAt: null,
    shownLH: 0,
    shownAt: 0,
    leftAt: 0,
    leftH: null,
    facts: nothingLost(),
  }
}
