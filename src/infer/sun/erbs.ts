/** How much of the light on a level surface is diffuse. */
import { DEG } from './place.js'

/** Below this cosine of the zenith the clearness of the sky is not told by the ratio (as in pvlib). */
const LEAST_COSINE = 0.065
/** With the sun this low all of the light is taken as diffuse, degrees of zenith (as in pvlib). */
const ZENITH_MAX_DEG = 87

export type Split = {
  /** Beam on a surface that faces the sun, W/m². */
  readonly beam: number
  /** Diffuse on a level surface, W/m². */
  readonly diffuse: number
  /** Clearness index: global over extraterrestrial, 0…1. */
  readonly clearness: number
}

/** Share of global horizontal light that is diffuse, 0…1, by clearness index (Erbs, Klein and Duffie 1982). */
export function diffuseShare(clearness: number): number {
  if (clearness <= 0.22) return 1 - 0.09 * clearness
  if (clearness > 0.8) return 0.165
  return 0.9511 - 0.1604 * clearness + 4.388 * clearness ** 2 - 16.638 * clearness ** 3 + 12.336 * clearness ** 4
}

/** Splits global horizontal irradiance (W/m²) for a zenith (degrees) and the extraterrestrial irradiance (W/m²). */
export function erbs(global: number, zenithDeg: number, extraterrestrial: number): Split {
  const cosine = Math.cos(zenithDeg * DEG)
  const above = extraterrestrial * Math.max(cosine, LEAST_COSINE)
  const clearness = above > 0 ? Math.max(0, Math.min(1, global / above)) : 0
  const diffuse = diffuseShare(clearness) * global
  const beam = (global - diffuse) / cosine
  if (zenithDeg > ZENITH_MAX_DEG || global < 0 || beam < 0) return { beam: 0, diffuse: Math.max(0, global), clearness }
  return { beam, diffuse, clearness }
}
