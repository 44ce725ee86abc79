/** What a level surface would get under a clear sky, and what arrives above the air. */
import { DEG } from './place.js'

/**
 * Global horizontal irradiance under a clear sky, W/m², from the sun's height in degrees; 0 below the horizon.
 * Haurwitz (1945) with the constants of pvlib: 1098 · cos z · exp(−0.059 / cos z). It knows nothing of haze or height.
 */
export function haurwitz(elevationDeg: number): number {
  const cosZenith = Math.sin(elevationDeg * DEG)
  return cosZenith > 0 ? 1098 * cosZenith * Math.exp(-0.059 / cosZenith) : 0
}

/** Solar constant as pvlib takes it, W/m². */
const SOLAR_CONSTANT = 1366.1

/** Irradiance above the air on a surface that faces the sun, W/m²; Spencer (1971). `dayOfYear` 1…366. */
export function extraterrestrialNormal(dayOfYear: number): number {
  const b = (2 * Math.PI * (dayOfYear - 1)) / 365
  return (
    SOLAR_CONSTANT *
    (1.00011 + 0.034221 * Math.cos(b) + 0.00128 * Math.sin(b) + 0.000719 * Math.cos(2 * b) + 7.7e-5 * Math.sin(2 * b))
  )
}
