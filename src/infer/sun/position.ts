/**
 * The sun's place in the sky. `sunAt` asks the astronomy library (some tens of microseconds); `sunCourse` asks it
 * twice for a span of up to a day or so and interpolates hour angle and declination, which costs next to nothing a
 * call and stays within 0.01° of it.
 */
import { Body, Equator, Horizon, Observer, SiderealTime } from 'astronomy-engine'
import { HOUR, type Ms } from '../../model/time.js'
import { DEG, type Place } from './place.js'

export type SunPosition = {
  /** Height of the sun's centre above the horizon, lifted by refraction, degrees; negative at night. */
  readonly elevationDeg: number
  /** Clockwise from north, degrees, 0…360. */
  readonly azimuthDeg: number
}

/**
 * Place of the sun at `t`, with refraction of a standard atmosphere.
 * Checked against the worked example of NREL's Solar Position Algorithm within 0.02°.
 */
export function sunAt(place: Place, t: Ms): SunPosition {
  const date = new Date(t)
  const observer = new Observer(place.latitudeDeg, place.longitudeDeg, place.elevationM)
  const equator = Equator(Body.Sun, date, observer, true, true)
  const seen = Horizon(date, observer, equator.ra, equator.dec, 'normal')
  return { elevationDeg: seen.altitude, azimuthDeg: seen.azimuth }
}

/** The sun's way over a span: hour angle and declination at its start, and what each gains an hour. */
export type SunCourse = {
  readonly from: Ms
  readonly sinLatitude: number
  readonly cosLatitude: number
  readonly hourAngleDeg: number
  readonly hourAngleGainDeg: number
  readonly declinationDeg: number
  readonly declinationGainDeg: number
}

/** The sun's way from `from` to `to`; good for spans of up to two days and a few hours beyond either end. */
export function sunCourse(place: Place, from: Ms, to: Ms): SunCourse {
  const hours = (to - from) / HOUR
  if (!(hours > 0 && hours <= 48)) throw new RangeError(`sun's course: found a span of ${hours} h, expected up to 48 h`)
  const first = hourAngleAndDeclination(place, from)
  const last = hourAngleAndDeclination(place, to)
  // The mean sun gains 15° an hour; what the true one differs is small, so that whole turns are told surely.
  const expected = first.hourAngleDeg + 15 * hours
  const lastDeg = last.hourAngleDeg + 360 * Math.round((expected - last.hourAngleDeg) / 360)
  return {
    from,
    sinLatitude: Math.sin(place.latitudeDeg * DEG),
    cosLatitude: Math.cos(place.latitudeDeg * DEG),
    hourAngleDeg: first.hourAngleDeg,
    hourAngleGainDeg: (lastDeg - first.hourAngleDeg) / hours,
    declinationDeg: first.declinationDeg,
    declinationGainDeg: (last.declinationDeg - first.declinationDeg) / hours,
  }
}

function hourAngleAndDeclination(place: Place, t: Ms): { hourAngleDeg: number; declinationDeg: number } {
  const date = new Date(t)
  const observer = new Observer(place.latitudeDeg, place.longitudeDeg, place.elevationM)
  const equator = Equator(Body.Sun, date, observer, true, true)
  const localHours = SiderealTime(date) + place.longitudeDeg / 15 - equator.ra
  return { hourAngleDeg: localHours * 15, declinationDeg: equator.dec }
}

/** Height above the horizon on a course, degrees, with refraction. */
export function elevationOn(course: SunCourse, t: Ms): number {
  const hours = (t - course.from) / HOUR
  const declination = (course.declinationDeg + course.declinationGainDeg * hours) * DEG
  const hourAngle = (course.hourAngleDeg + course.hourAngleGainDeg * hours) * DEG
  const sine =
    course.sinLatitude * Math.sin(declination) + course.cosLatitude * Math.cos(declination) * Math.cos(hourAngle)
  const airless = Math.asin(Math.max(-1, Math.min(1, sine))) / DEG
  return airless + refractionDeg(airless)
}

/** Place of the sun on a course. */
export function positionOn(course: SunCourse, t: Ms): SunPosition {
  const hours = (t - course.from) / HOUR
  const declination = (course.declinationDeg + course.declinationGainDeg * hours) * DEG
  const hourAngle = (course.hourAngleDeg + course.hourAngleGainDeg * hours) * DEG
  const west = Math.cos(declination) * Math.sin(hourAngle)
  const north =
    course.cosLatitude * Math.sin(declination) - course.sinLatitude * Math.cos(declination) * Math.cos(hourAngle)
  const azimuth = Math.atan2(-west, north) / DEG
  return { elevationDeg: elevationOn(course, t), azimuthDeg: azimuth < 0 ? azimuth + 360 : azimuth }
}

/** Refraction of a standard atmosphere (Saemundsson's formula, as in Meeus, Astronomical Algorithms, ch. 16). */
function refractionDeg(airlessDeg: number): number {
  if (airlessDeg < -1) return 0
  return 1.02 / 60 / Math.tan((airlessDeg + 10.3 / (airlessDeg + 5.11)) * DEG)
}
