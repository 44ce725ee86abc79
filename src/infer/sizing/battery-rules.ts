/** What a battery of each chemistry may be counted on for. Common practice where no source is named. */
import type { Chemistry } from '../../model/settings.js'

export type BatteryRules = {
  /** Share of the capacity that may be drawn every time without harm. */
  readonly depth: number
  /** Share of each watt-hour put in that comes out again. */
  readonly efficiency: number
  /** What is left of the capacity when it is old enough to be replaced soon, but has not been yet. */
  readonly aged: number
  /** Below this it takes no charge, °C; null: cold does not keep it from charging. */
  readonly noChargeBelowC: number | null
}

const LEAD: BatteryRules = { depth: 0.5, efficiency: 0.82, aged: 0.85, noChargeBelowC: null }
const RULES: Record<Chemistry, BatteryRules> = {
  lifepo4: { depth: 0.9, efficiency: 0.95, aged: 0.9, noChargeBelowC: 0 },
  flooded: LEAD,
  agm: LEAD,
  gel: LEAD,
}

export function batteryRules(chemistry: Chemistry): BatteryRules {
  return RULES[chemistry]
}

/**
 * How much larger a lead-acid battery must be for the cold, by temperature in °C: the multipliers of the sizing
 * handbooks (80 °F 1.00 … 20 °F 1.59), as quoted by their users.
 */
const LEAD_COLD: readonly (readonly [number, number])[] = [
  [-6.7, 1.59],
  [-1.1, 1.4],
  [4.4, 1.3],
  [10, 1.19],
  [15.6, 1.11],
  [21.2, 1.04],
  [26.7, 1],
]
/** Lithium iron phosphate gives some nine tenths at freezing and seven tenths at −20 °C (from memory). */
const LITHIUM_COLD: readonly (readonly [number, number])[] = [
  [-20, 1.43],
  [-10, 1.25],
  [0, 1.12],
  [20, 1],
]

/** Multiplier of capacity for the cold, 1 and more; held at the table's ends. */
export function coldMultiplier(chemistry: Chemistry, celsius: number): number {
  const table = chemistry === 'lifepo4' ? LITHIUM_COLD : LEAD_COLD
  let below = table[0]
  for (const point of table) {
    if (celsius <= point[0]) {
      if (below === undefined || below === point) return point[1]
      const share = (celsius - below[0]) / (point[0] - below[0])
      return below[1] + share * (point[1] - below[1])
    }
    below = point
  }
  return below?.[1] ?? 1
}
