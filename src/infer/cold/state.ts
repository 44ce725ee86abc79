/** What the engine remembers of the cold: plain, bounded, rounded, so that it is a few kilobytes on the hour. */
import type {
  ColdBattery,
  FrostFacts,
  MethodSkill,
  NightMethod,
  NoTonight,
  SeasonRange,
  Sky,
  Tonight,
} from '../../model/facts-cold.js'
import type { Ms } from '../../model/time.js'

/** Own nights, compared predictions of each method, half-hours and days that are kept. */
export const KEPT = { nights: 90, errors: 40, halfHours: 60, days: 400, harvests: 15 } as const
/** Moments of a night that are kept, evenly between two hours past sunset and sunrise. */
export const MARKS = 8

/** A night that is over, and what was known of it two hours after sunset. */
export type Night = {
  readonly t0: number
  readonly td: number | null
  /** Fall from sunset until then. */
  readonly fall: number
  /** The day's harvest as a share of the best of the last days; null: not known. */
  readonly sun: number | null
  /** Temperature at each mark of the night; null: not seen. */
  readonly marks: readonly (number | null)[]
  readonly min: number
}

/** One morning's comparison: [night − what was said, sky as -1 cloudy, 0 mixed, 1 clear]. */
export type Compared = readonly [error: number, sky: -1 | 0 | 1]

/** The night that comes, or is. */
export type Evening = {
  readonly sunset: Ms
  readonly sunrise: Ms
  /** When it is over and the next one is looked at: the coldest often comes just after sunrise. */
  readonly over: Ms
  sunsetC: number | null
  t0: number | null
  td: number | null
  fall: number | null
  sun: number | null
  sky: Sky | null
  /** What each method said two hours after sunset. */
  readonly said: Record<NightMethod, number | null>
  /** The first idea, three hours before sunset. */
  saidEarly: number | null
  /** The method that counts, what it said in the evening, and that as the night has moved it. */
  method: NightMethod
  saidMin: number | null
  saidSd: number
  min: number | null
  sd: number
  /** Temperature at the marks passed, what was said there, and the latest saying: share of the fall then passed, temperature, minimum, its sd. */
  readonly marks: (number | null)[]
  saidAt: (readonly [min: number, sd: number] | null)[]
  base: { readonly share: number; readonly c: number; readonly min: number; readonly sd: number } | null
  /** Coldest so far since two hours after sunset. */
  coldest: number | null
}

export type ColdState = {
  /** Sum and number of the looks of these ten minutes. */
  sum: number
  n: number
  nights: Night[]
  errors: Record<NightMethod, Compared[]>
  /** Of the first idea before sunset. */
  earlyErrors: number[]
  /** Of what was said at each mark: mean square of the misses in sd of the fit. */
  markMisses: number[]
  evening: Evening | null
  lastMin: number | null
  /** The night is followed by a thermometer in the air, not by that of a line, which water passes through. */
  onAir: boolean
  /** Half-hourly means, newest last. */
  halfT: Ms[]
  halfC: number[]
  humidity: number | null
  humidityT: Ms
  forecastC: number | null
  forecastT: Ms
  /** Harvest of the last days, Wh. */
  harvests: number[]
  /** Local days as [days since 1970, least, greatest], oldest first. */
  days: [day: number, min: number, max: number][]
  /** Latest temperature of a box, for boxed lines without a thermometer of their own. */
  boxC: number | null
  boxT: Ms
  /** What is said until it is reckoned anew, every ten minutes, and once a day. */
  tonight: Tonight | null
  noTonight: NoTonight | null
  methods: MethodSkill[]
  battery: ColdBattery | null
  frost: FrostFacts | null
  closing: SeasonRange
  opening: SeasonRange
  hardFrostOn: string | null
  /** Charge of a lead-acid battery at rest in the last night. */
  charge: number | null
}

export function createCold(): ColdState {
  const unknown = { known: false, nights: 0, neededNights: 0 } as const
  return {
    sum: 0,
    n: 0,
    nights: [],
    errors: { own: [], general: [], forecast: [], persistence: [] },
    earlyErrors: [],
    markMisses: [],
    evening: null,
    lastMin: null,
    onAir: true,
    halfT: [],
    halfC: [],
    humidity: null,
    humidityT: 0,
    forecastC: null,
    forecastT: 0,
    harvests: [],
    days: [],
    boxC: null,
    boxT: 0,
    tonight: null,
    noTonight: 'not-yet',
    methods: [],
    battery: null,
    frost: null,
    closing: unknown,
    opening: unknown,
    hardFrostOn: null,
    charge: null,
  }
}

/** Adds to a bounded list. */
export function keep<T>(list: T[], value: T, most: number): void {
  list.push(value)
  if (list.length > most) list.splice(0, list.length - most)
}

/** Hundredths are finer than any sensor here, and short to write down. */
export function round2(value: number): number {
  return Math.round(value * 100) / 100
}
