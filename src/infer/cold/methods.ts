/** The ways to say tonight's minimum two hours after sunset, and which of them has been right here. */
import { type MethodSkill, NIGHT_METHODS, type NightMethod, type Sky } from '../../model/facts-cold.js'
import { median } from '../stats.js'
import { fitSteps, predictSteps } from './regression.js'
import type { ColdState, Compared, Evening, Night } from './state.js'

/** Own nights from which on their regression is asked. */
export const OWN_NIGHTS = 8
/** Nights like tonight's from which on their errors alone say how sure a method is. */
const ALIKE = 6
/** Spread of each method before it has been compared here, °C, and on how many nights' worth that counts. */
const BEFORE: Readonly<Record<NightMethod, number>> = { own: 2.2, general: 3, forecast: 2.5, persistence: 4 }
const BEFORE_NIGHTS = 4
/**
 * General: the fall after two hours past sunset is √(n − 2) · (0.95 + 0.23 · fall since sunset). The form is the
 * FAO's course of a night; the two numbers are those of all nights of a typical year at Greensboro, North Carolina
 * (TMY3 723170), where they leave 2.5 °C.
 */
const GENERAL = { still: 0.95, fall: 0.23 } as const
/** A fall within two hours of sunset that is usual for a clear night, until own nights say [Greensboro, TMY3]. */
const CLEAR_FALL_C = 2.2

export type Known = Pick<Night, 't0' | 'td' | 'fall' | 'sun'>

/** Own nights: the book's two steps, then the fall since sunset and the day's sun, which tell clear from cloudy. */
export function ownMinimum(nights: readonly Night[], known: Known): number | null {
  if (nights.length < OWN_NIGHTS) return null
  const steps = fitSteps(
    nights.map((night) => night.min),
    [
      nights.map((night) => night.t0),
      nights.map((night) => night.td),
      nights.map((night) => night.fall),
      nights.map((night) => night.sun),
    ],
  )
  // Few nights fit a line that runs wild beyond them: no night falls much further than any did here.
  const furthest = nights.reduce((most, night) => Math.max(most, night.t0 - night.min), 0) + BEYOND_C
  const said = predictSteps(steps, [known.t0, known.td, known.fall, known.sun])
  return Math.min(known.t0, Math.max(known.t0 - furthest, said))
}

const BEYOND_C = 4

export function generalMinimum(t0: number, fall: number, nightH: number): number {
  if (nightH <= 2) return t0
  return t0 - Math.sqrt(nightH - 2) * Math.max(0.2, GENERAL.still + GENERAL.fall * fall)
}

/** Clear or cloudy by what the sensors show: the fall since sunset beside this site's usual, and the day's harvest. */
export function skyOf(nights: readonly Night[], fall: number, sun: number | null): Sky {
  const usual = nights.length < OWN_NIGHTS ? CLEAR_FALL_C : median(nights.map((night) => night.fall))
  if (fall >= usual && (sun === null || sun >= 0.5)) return 'clear'
  return fall < 0.6 * usual && (sun === null || sun < 0.7) ? 'cloudy' : 'mixed'
}

export function skyCode(sky: Sky | null): -1 | 0 | 1 {
  return sky === 'clear' ? 1 : sky === 'cloudy' ? -1 : 0
}

/** Expected spread of a method on a night of this sky: its errors here, drawn towards what is usual while they are few. */
export function spreadOf(method: NightMethod, errors: readonly Compared[], sky: Sky | null): number {
  const alike = errors.filter(([, code]) => code === skyCode(sky))
  const used = alike.length >= ALIKE ? alike : errors
  const squares = used.reduce((sum, [error]) => sum + error * error, 0)
  return Math.sqrt((BEFORE[method] ** 2 * BEFORE_NIGHTS + squares) / (BEFORE_NIGHTS + used.length))
}

/** The method with the least expected spread of those that have a word for tonight; null: none has. */
export function choose(
  state: Pick<ColdState, 'errors'>,
  evening: Pick<Evening, 'said' | 'sky'>,
): { readonly method: NightMethod; readonly min: number; readonly sd: number } | null {
  let best: { method: NightMethod; min: number; sd: number } | null = null
  for (const method of NIGHT_METHODS) {
    const min = evening.said[method]
    if (min === null) continue
    const sd = spreadOf(method, state.errors[method], evening.sky)
    if (best === null || sd < best.sd) best = { method, min, sd }
  }
  return best
}

/** What the mornings have shown of each method. */
export function skillsOf(errors: ColdState['errors']): MethodSkill[] {
  return NIGHT_METHODS.map((method) => {
    const list = errors[method]
    const n = list.length
    if (n === 0) return { method, nights: 0, rmsC: null, biasC: null }
    const squares = list.reduce((sum, [error]) => sum + error * error, 0)
    return {
      method,
      nights: n,
      rmsC: Math.sqrt(squares / n),
      biasC: list.reduce((sum, [error]) => sum + error, 0) / n,
    }
  })
}
