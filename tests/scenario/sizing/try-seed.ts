/** One season of ninety days measured, the answer, and what twenty years truly bring. */
import { SHORT_DAYS_ALLOWED } from '../../../src/daemon/sizing-desk.js'
import { roughCost } from '../../../src/infer/sizing/options.js'
import { size } from '../../../src/infer/sizing/size.js'
import type { SiteSettings } from '../../../src/model/settings.js'
import type { SizeOption, SizingResult } from '../../../src/model/sizing.js'
import { settingsOf } from '../detection/run-case.js'
import { ARRAY_W, BATTERY_AH, LATITUDE, LONGITUDE, storedHours, trueCourse, trueShortDays } from './truth.js'

export const FIVE: readonly (readonly [number, number])[] = [
  [350, 100],
  [440, 100],
  [700, 100],
  [350, 200],
  [440, 200],
]
const YEARS = 20
/** Late in November to late in February. */
const FROM_DAY = 325
const DAYS = 90

export type TriedOption = { readonly option: SizeOption; readonly truth: number; readonly inside: boolean }
export type Tried = {
  readonly seed: number
  readonly result: SizingResult
  readonly five: readonly TriedOption[]
  readonly cheapest: SizeOption | null
  /** Steps of array and battery from the cheapest that truly meets the need to the one recommended. */
  readonly steps: readonly [number, number] | null
}

export function sizingSite(): SiteSettings {
  return {
    ...settingsOf('juniper'),
    latitudeDeg: LATITUDE,
    longitudeDeg: LONGITUDE,
    array: { ratedW: ARRAY_W, tiltDeg: 45, azimuthDeg: 180 },
    battery: { chemistry: 'lifepo4', nominalVoltageV: 24, capacityAh: BATTERY_AH },
  }
}

export function trySeed(seed: number): Tried {
  const truth = trueCourse({ seed, years: YEARS })
  // A season of the same climate that is not among the twenty years.
  const hours = storedHours(trueCourse({ seed: seed + 1_000, years: 2 }), FROM_DAY, DAYS)
  const result = size({
    site: sizingSite(),
    hours,
    days: [],
    needL: null,
    shortDaysAllowed: SHORT_DAYS_ALLOWED,
    converterShare: 0.96,
    seed,
  })
  const tried = result.options.map((option): TriedOption => {
    const days = trueShortDays(truth, option)
    const [low, high] = option.shortDaysCi95
    return { option, truth: days, inside: days >= low && days <= high }
  })
  const cost = ({ option }: TriedOption): number => roughCost(option.arrayW, option.batteryAh * 24, true)
  const meeting = tried.filter((one) => one.truth <= SHORT_DAYS_ALLOWED).sort((a, b) => cost(a) - cost(b))
  const cheapest = meeting[0]?.option ?? null
  const five = FIVE.flatMap(([w, ah]) => tried.filter(({ option }) => option.arrayW === w && option.batteryAh === ah))
  return { seed, result, five, cheapest, steps: stepsBetween(result, cheapest) }
}

function stepsBetween({ options, recommended }: SizingResult, cheapest: SizeOption | null) {
  if (recommended === null || cheapest === null) return null
  const arrays = [...new Set(options.map((one) => one.arrayW))].sort((a, b) => a - b)
  const batteries = [...new Set(options.map((one) => one.batteryAh))].sort((a, b) => a - b)
  return [
    arrays.indexOf(recommended.arrayW) - arrays.indexOf(cheapest.arrayW),
    batteries.indexOf(recommended.batteryAh) - batteries.indexOf(cheapest.batteryAh),
  ] as const
}

export function withinOneStep({ steps }: Tried): boolean {
  return steps !== null && Math.abs(steps[0]) <= 1 && Math.abs(steps[1]) <= 1
}
