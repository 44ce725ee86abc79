/**
 * Radiation of a day by FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), chapter 3. All in MJ/m² and day
 * (divide by 3.6 for kWh/m², which is also hours of full sun). `dayOfYear` 1…366; latitude in degrees, north positive.
 */
import { DEG } from './place.js'

/** Inverse relative distance Earth–Sun, eq. 23. */
export function inverseDistance(dayOfYear: number): number {
  return 1 + 0.033 * Math.cos((2 * Math.PI * dayOfYear) / 365)
}

/** Declination, radians, eq. 24. */
export function declinationRad(dayOfYear: number): number {
  return 0.409 * Math.sin((2 * Math.PI * dayOfYear) / 365 - 1.39)
}

/** Sunset hour angle, radians, eq. 25: 0 in polar night, π in polar day. */
export function sunsetHourAngleRad(latitudeDeg: number, dayOfYear: number): number {
  const cosine = -Math.tan(latitudeDeg * DEG) * Math.tan(declinationRad(dayOfYear))
  return Math.acos(Math.max(-1, Math.min(1, cosine)))
}

/** Daylight hours N, eq. 34. */
export function daylightHours(latitudeDeg: number, dayOfYear: number): number {
  return (24 / Math.PI) * sunsetHourAngleRad(latitudeDeg, dayOfYear)
}

/** Extraterrestrial radiation Ra on a level surface, eq. 21. */
export function extraterrestrialRadiation(latitudeDeg: number, dayOfYear: number): number {
  const latitude = latitudeDeg * DEG
  const declination = declinationRad(dayOfYear)
  const sunset = sunsetHourAngleRad(latitudeDeg, dayOfYear)
  return (
    ((24 * 60) / Math.PI) *
    0.082 *
    inverseDistance(dayOfYear) *
    (sunset * Math.sin(latitude) * Math.sin(declination) +
      Math.cos(latitude) * Math.cos(declination) * Math.sin(sunset))
  )
}

/** Clear-sky radiation Rso for a height above the sea, eq. 37. */
export function clearSkyRadiation(ra: number, elevationM: number): number {
  return (0.75 + 2e-5 * elevationM) * ra
}

/** Radiation Rs from hours of sunshine, eq. 35 (Ångström, with the paper's 0.25 and 0.50). */
export function radiationFromSunshine(ra: number, sunHours: number, dayHours: number): number {
  return (0.25 + (0.5 * sunHours) / dayHours) * ra
}

/**
 * Radiation Rs from the day's span of temperature, eq. 50 (Hargreaves): `k` 0.16 inland, 0.19 on a coast. Rough: some
 * tens of per cent on a single day.
 */
export function radiationFromTemperature(ra: number, highC: number, lowC: number, k: number): number {
  return k * Math.sqrt(Math.max(0, highC - lowC)) * ra
}
