/** Light on a tilted plane: from the beam, the sky and the ground. Angles in degrees, azimuths clockwise from north. */
import { DEG } from './place.js'

export type Plane = { readonly tiltDeg: number; readonly azimuthDeg: number }
export type Direction = { readonly zenithDeg: number; readonly azimuthDeg: number }

/** Below this cosine of the zenith (about 1° of height) the ratio of beams is held, as in pvlib. */
const LEAST_COSINE = 0.01745

/** Cosine of the angle between the sun and the plane's normal, −1…1: rounding must not push it past either end. */
export function cosIncidence(plane: Plane, sun: Direction): number {
  const tilt = plane.tiltDeg * DEG
  const zenith = sun.zenithDeg * DEG
  const between = (sun.azimuthDeg - plane.azimuthDeg) * DEG
  const cosine = Math.cos(zenith) * Math.cos(tilt) + Math.sin(zenith) * Math.sin(tilt) * Math.cos(between)
  return Math.max(-1, Math.min(1, cosine))
}

/** Angle of incidence, 0…180 degrees; over 90 the sun is behind the plane. */
export function incidenceDeg(plane: Plane, sun: Direction): number {
  return Math.acos(cosIncidence(plane, sun)) / DEG
}

/** Diffuse light on the plane from a sky that is equally bright everywhere, W/m². */
export function isotropicSky(diffuse: number, tiltDeg: number): number {
  return (diffuse * (1 + Math.cos(tiltDeg * DEG))) / 2
}

/** Light on the plane that the ground throws back, W/m²; `albedo` 0.2–0.25 bare, 0.6–0.8 snow. */
export function fromGround(global: number, tiltDeg: number, albedo: number): number {
  return (global * albedo * (1 - Math.cos(tiltDeg * DEG))) / 2
}

/**
 * Diffuse light on the plane by Hay and Davies (1980): as much of it as the beam keeps on its way through the air comes
 * from around the sun, the rest from all over. `extraterrestrial`: beam above the air, W/m².
 */
export function hayDaviesSky(
  plane: Plane,
  sun: Direction,
  diffuse: number,
  beam: number,
  extraterrestrial: number,
): number {
  const anisotropy = extraterrestrial > 0 ? beam / extraterrestrial : 0
  const ratio = Math.max(0, cosIncidence(plane, sun)) / Math.max(Math.cos(sun.zenithDeg * DEG), LEAST_COSINE)
  const even = Math.max(0, isotropicSky(diffuse, plane.tiltDeg) * (1 - anisotropy))
  return even + Math.max(0, diffuse * anisotropy * ratio)
}

export type Sky = {
  /** Global on a level surface, beam on a surface that faces the sun, diffuse on a level surface, W/m². */
  readonly global: number
  readonly beam: number
  readonly diffuse: number
  /** Beam above the air, W/m²; null: the sky is taken as equally bright everywhere. */
  readonly extraterrestrial: number | null
  readonly albedo: number
}

/** All of the light on the plane, W/m². */
export function planeOfArray(plane: Plane, sun: Direction, sky: Sky): number {
  if (sky.global <= 0) return 0
  const beam = sky.beam * Math.max(0, cosIncidence(plane, sun))
  const diffuse =
    sky.extraterrestrial === null
      ? isotropicSky(sky.diffuse, plane.tiltDeg)
      : hayDaviesSky(plane, sun, sky.diffuse, sky.beam, sky.extraterrestrial)
  return beam + diffuse + fromGround(sky.global, plane.tiltDeg, sky.albedo)
}
