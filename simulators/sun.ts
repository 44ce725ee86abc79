/**
 * Where the sun stands and how much of it reaches a tilted panel. Low-order formulas of the astronomical almanacs
 * (mean longitude, anomaly, equation of centre): good to a few hundredths of a degree over this century.
 */
import { DAY, type Ms } from '../src/model/time.js'

const RAD = Math.PI / 180
/** Julian date 2451545.0. */
const J2000_MS = Date.UTC(2000, 0, 1, 12)

export type SunPlace = {
  /** Above the horizon, without refraction. */
  readonly elevationDeg: number
  /** Clockwise from north. */
  readonly azimuthDeg: number
}

/** Sun's place for an instant; latitude north and longitude east are positive. */
export function sunPlace(at: Ms, latitudeDeg: number, longitudeDeg: number): SunPlace {
  const days = (at - J2000_MS) / DAY
  const anomaly = (357.528 + 0.9856003 * days) * RAD
  const longitude = (280.46 + 0.9856474 * days + 1.915 * Math.sin(anomaly) + 0.02 * Math.sin(2 * anomaly)) * RAD
  const obliquity = (23.439 - 4e-7 * days) * RAD
  const rightAscension = Math.atan2(Math.cos(obliquity) * Math.sin(longitude), Math.cos(longitude))
  const declination = Math.asin(Math.sin(obliquity) * Math.sin(longitude))
  const siderealDeg = 280.46061837 + 360.98564736629 * days + longitudeDeg
  const hourAngle = siderealDeg * RAD - rightAscension
  const latitude = latitudeDeg * RAD
  const sine =
    Math.sin(latitude) * Math.sin(declination) + Math.cos(latitude) * Math.cos(declination) * Math.cos(hourAngle)
  const east = -Math.cos(declination) * Math.sin(hourAngle)
  const north =
    Math.cos(latitude) * Math.sin(declination) - Math.sin(latitude) * Math.cos(declination) * Math.cos(hourAngle)
  const azimuthDeg = (Math.atan2(east, north) / RAD + 360) % 360
  return { elevationDeg: Math.asin(Math.max(-1, Math.min(1, sine))) / RAD, azimuthDeg }
}

/** Sun on level ground under a clear sky, kW/m² (Haurwitz 1945: 1098·cos z·exp(−0.059/cos z) W/m²). */
export function clearSkyKwM2(elevationDeg: number): number {
  const cosine = Math.sin(elevationDeg * RAD)
  return cosine <= 0 ? 0 : 1.098 * cosine * Math.exp(-0.059 / cosine)
}

/**
 * Sun on a tilted panel, kW/m², for what reaches level ground: under a clear sky a ninth is diffuse, under cloud all
 * of it; diffuse light comes evenly from the sky, and a fifth of everything is thrown back by the ground.
 */
export function onPanelKwM2(sun: SunPlace, levelKwM2: number, cloud: number, tiltDeg: number, facingDeg: number) {
  if (levelKwM2 <= 0) return 0
  const diffuse = levelKwM2 * Math.min(1, 0.11 + 0.89 * cloud ** 1.5)
  const sine = Math.sin(sun.elevationDeg * RAD)
  const beam = (levelKwM2 - diffuse) / Math.max(sine, 0.05)
  const tilt = tiltDeg * RAD
  const incidence =
    sine * Math.cos(tilt) +
    Math.cos(sun.elevationDeg * RAD) * Math.sin(tilt) * Math.cos((sun.azimuthDeg - facingDeg) * RAD)
  const sky = (diffuse * (1 + Math.cos(tilt))) / 2
  const ground = (0.2 * levelKwM2 * (1 - Math.cos(tilt))) / 2
  return beam * Math.max(0, incidence) + sky + ground
}
