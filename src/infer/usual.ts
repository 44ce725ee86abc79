/** What is usual here: robust centre and spread of the last complete fills. */
import type { Usual } from '../model/facts.js'
import { MAD_TO_SD, median } from './stats.js'

/** Enough fills for a steady median, few enough to follow the season. */
const KEPT = 24

export type UsualState = { readonly values: number[]; cached: Usual | null }

export function createUsual(): UsualState {
  return { values: [], cached: null }
}

export function learn(state: UsualState, value: number): void {
  state.values.push(value)
  if (state.values.length > KEPT) state.values.shift()
  const centre = median(state.values)
  const spread = MAD_TO_SD * median(state.values.map((v) => Math.abs(v - centre)))
  state.cached = { value: centre, sd: spread, fills: state.values.length }
}

/** Null until `least` fills have been seen. */
export function usual(state: UsualState, least = 1): Usual | null {
  return state.cached !== null && state.cached.fills >= least ? state.cached : null
}
