/** What the array would get under a clear sky, for each watt of its rating. */
import type { SiteSettings } from '../../model/settings.js'
import { DAY, type Ms } from '../../model/time.js'
import { extraterrestrialNormal, haurwitz } from '../sun/clear-sky.js'
import { erbs } from '../sun/erbs.js'
import { type Place, placeOf } from '../sun/place.js'
import { type Plane, planeOfArray } from '../sun/plane.js'
import { positionOn, type SunCourse, sunCourse } from '../sun/position.js'

const ALBEDO = 0.2

/** Where the array stands and how it faces. */
export type ArrayPlace = { readonly place: Place; readonly plane: Plane; readonly ratedW: number }

/**
 * Null where latitude, longitude or the array's rating are not configured. A tilt that is not given is taken as the
 * latitude, an azimuth as towards the equator: what people do who know neither.
 */
export function arrayPlaceOf(site: SiteSettings): ArrayPlace | null {
  const place = placeOf(site)
  const { array } = site
  if (place === null || array === null) return null
  const tiltDeg = array.tiltDeg ?? Math.min(60, Math.abs(place.latitudeDeg))
  const azimuthDeg = array.azimuthDeg ?? (place.latitudeDeg >= 0 ? 180 : 0)
  return { place, plane: { tiltDeg, azimuthDeg }, ratedW: array.ratedW }
}

/** Day of the year, 1…366, in UTC. */
export function dayOfYear(t: Ms): number {
  return Math.floor((t - Date.UTC(new Date(t).getUTCFullYear(), 0, 1)) / DAY) + 1
}

export function courseOfDay(place: Place, t: Ms): SunCourse {
  const from = t - (t % DAY)
  return sunCourse(place, from, from + DAY)
}

/**
 * Light on the plane under a clear sky, kW/m², which is also the share of its rating that a panel without losses gives:
 * Haurwitz on the level, parted by Erbs, laid on the plane by Hay and Davies.
 */
export function clearOnPlane(course: SunCourse, plane: Plane, t: Ms): number {
  const { elevationDeg, azimuthDeg } = positionOn(course, t)
  const global = haurwitz(elevationDeg)
  if (global <= 0) return 0
  const zenithDeg = 90 - elevationDeg
  const extraterrestrial = extraterrestrialNormal(dayOfYear(t))
  const { beam, diffuse } = erbs(global, zenithDeg, extraterrestrial)
  return (
    planeOfArray(plane, { zenithDeg, azimuthDeg }, { global, beam, diffuse, extraterrestrial, albedo: ALBEDO }) / 1000
  )
}

const STEP_MS = DAY / 144

/** The same summed over the hour from `at`, in hours of full sun. */
export function clearHour(course: SunCourse, plane: Plane, at: Ms): number {
  let sum = 0
  for (let i = 0; i < 6; i += 1) sum += clearOnPlane(course, plane, at + (i + 0.5) * STEP_MS)
  return sum / 6
}
