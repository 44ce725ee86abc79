import type { Facts } from '../../model/facts.js'

/** The coldest line that is known, °C. */
export function coldestLineC(facts: Facts): number | null {
  let coldest: number | null = null
  for (const { temperatureC } of facts.lines) {
    if (temperatureC !== null && (coldest === null || temperatureC < coldest)) coldest = temperatureC
  }
  return coldest
}
