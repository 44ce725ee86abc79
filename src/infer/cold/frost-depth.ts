/**
 * How deep the frost stands in the ground, from the air's freezing index. Stefan's formula, and the modified Berggren
 * of UFC 3-130-06 (TM 5-852-6), with the closed form of Aldrich and Paynter (1953) for its coefficient.
 */
import { DAY, SECOND } from '../../model/time.js'

export type Soil = {
  /** W/(m K), kg/m³ dry, and water as a share of the dry mass. */
  readonly conductivity: number
  readonly dryDensity: number
  readonly waterShare: number
}

/** A mineral soil of ordinary moisture (the example of the modified Berggren: 0.78 Btu/(h ft °F), 100 lb/ft³, 15 %). */
export const USUAL_SOIL: Soil = { conductivity: 1.35, dryDensity: 1602, waterShare: 0.15 }

/** Share of the air's freezing index that reaches the surface (TM 5-852-4, table 4-1). */
export const N_FACTOR = { turf: 0.5, bare: 0.7, cleared: 1 } as const

/** 144 Btu/lb and 1 Btu/(lb °F), as the method has them. */
const LATENT = 144 * 2326
const HEAT = 4186.8

/** Stefan: depth in m for an index at the surface in °C·days. */
export function stefanDepthM(surfaceIndexCd: number, soil: Soil): number {
  const latent = LATENT * soil.dryDensity * soil.waterShare
  return Math.sqrt((2 * soil.conductivity * (DAY / SECOND) * Math.max(0, surfaceIndexCd)) / latent)
}

/**
 * Modified Berggren: Stefan's depth less what the ground's own warmth holds back.
 *
 * @param frostDays length of the frost
 * @param yearMeanC mean of the air over the year; at or below 0 °C the ground holds nothing back
 */
export function berggrenDepthM(surfaceIndexCd: number, soil: Soil, frostDays: number, yearMeanC: number): number {
  const stefan = stefanDepthM(surfaceIndexCd, soil)
  if (surfaceIndexCd <= 0 || frostDays <= 0) return 0
  const meanBelowC = surfaceIndexCd / frostDays
  const latent = LATENT * soil.dryDensity * soil.waterShare
  const heat = soil.dryDensity * (0.17 + 0.75 * soil.waterShare) * HEAT
  const mu = (heat * meanBelowC) / latent
  const alpha = Math.max(0, yearMeanC) / meanBelowC
  return stefan / Math.sqrt(1 + mu * (alpha + 0.5))
}

/**
 * Freezing index of a winter from its daily means: the fall of the cumulative sum from its highest to the lowest that
 * follows. The days below 0 °C alone, added up, would count a thaw as nothing.
 */
export function freezingIndexCd(dailyMeansC: readonly number[]): number {
  let sum = 0
  let highest = 0
  let deepest = 0
  for (const mean of dailyMeansC) {
    sum += mean
    if (sum > highest) highest = sum
    if (highest - sum > deepest) deepest = highest - sum
  }
  return deepest
}
