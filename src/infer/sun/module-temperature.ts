/** How warm a panel gets. */

/** Loss of heat without wind, W/(m²·K), and what each m/s adds: the usual figures for the open rack of Faiman (2008). */
const STILL = 25
const PER_WIND = 6.84

/** Temperature of a panel, °C, from the light on it (W/m²), the air (°C) and the wind (m/s); Faiman (2008). */
export function moduleTemperatureC(light: number, airC: number, windMS: number, u0 = STILL, u1 = PER_WIND): number {
  return airC + light / (u0 + u1 * windMS)
}
