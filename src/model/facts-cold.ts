/** What is known of the cold: tonight, the lines, the ground, the battery and the seasons. Null is "not known". */
import type { SignalKey } from './roles.js'
import type { Ms } from './time.js'

/** Ways to say tonight's minimum: see docs/figures.md, "Tonight's minimum". */
export const NIGHT_METHODS = ['own', 'general', 'forecast', 'persistence'] as const
export type NightMethod = (typeof NIGHT_METHODS)[number]

/** How right one method has been here; null before it was compared with a night. */
export type MethodSkill = {
  readonly method: NightMethod
  readonly nights: number
  readonly rmsC: number | null
  /** Mean of (night − what was said): positive, the nights were warmer. */
  readonly biasC: number | null
}

export type Sky = 'clear' | 'mixed' | 'cloudy'

export type CoursePoint = { readonly at: Ms; readonly c: number; readonly sdC: number }

/** The coming, or the present, night. */
export type Tonight = {
  /** Of which signal: the air's, or the line's own where there is no thermometer in the air. */
  readonly source: SignalKey
  readonly sunset: Ms
  readonly sunrise: Ms
  readonly method: NightMethod
  readonly expectedMinC: number
  readonly sdC: number
  /** False before two hours after sunset: a first idea, from yesterday's course and night. */
  readonly evening: boolean
  /** What it rests on: two hours after sunset, the dew point then, the fall since sunset. */
  readonly t0C: number | null
  readonly dewPointC: number | null
  readonly fallC: number | null
  readonly sky: Sky | null
  /** From now on, an hour apart, until after sunrise. */
  readonly course: readonly CoursePoint[]
}

/** Why there is no word about tonight. */
export type NoTonight = 'no-place' | 'no-thermometer' | 'no-night' | 'not-yet'

export type FrostFacts = {
  /** First day that counts (YYYY-MM-DD), and how many days since then have figures. */
  readonly since: string
  readonly days: number
  /** Air freezing index, °C·days, now and at its highest this season. */
  readonly indexCd: number
  readonly seasonIndexCd: number
  /** Depth of frost in bare mineral ground, with turf or trees, and cleared of snow. */
  readonly depthM: number
  readonly shallowM: number
  readonly deepM: number
  /** The same in a fortnight if it stays as cold as in the last week. */
  readonly fortnightM: number
  /** One point a week since the frost began, oldest first. */
  readonly course: readonly { readonly date: string; readonly depthM: number }[]
}

export type ColdBattery =
  | {
      readonly kind: 'electrolyte'
      /** Charge by its voltage at rest, 0…1, and where its electrolyte freezes. */
      readonly chargeShare: number
      readonly freezesAtC: number
      readonly expectedMinC: number
      readonly threatened: boolean
    }
  | { readonly kind: 'lithium'; readonly expectedMinC: number; readonly chargeRefused: boolean }

/** A date of the year as a range, or why it cannot be said yet. */
export type SeasonRange =
  | {
      readonly known: true
      readonly from: string
      readonly to: string
      /** Nights and days of the year that it rests on. */
      readonly nights: number
      readonly spanDays: number
    }
  | { readonly known: false; readonly nights: number; readonly neededNights: number }

export type ColdFacts = {
  tonight: Tonight | null
  noTonight: NoTonight | null
  methods: readonly MethodSkill[]
  /** Own nights that the regression rests on. */
  ownNights: number
  frost: FrostFacts | null
  battery: ColdBattery | null
  /** The last date of this season by which a hard frost had come; null: none yet. */
  hardFrostOn: string | null
  /** Close before the first hard frost; open after the last. */
  closing: SeasonRange
  opening: SeasonRange
}
