/** Moist air, by PsychroLib (ASHRAE Handbook, Fundamentals 2017, ch. 1). */
import psychrolib from 'psychrolib'

psychrolib.SetUnitSystem(psychrolib.SI)

/**
 * Dew point (below 0 °C: frost point), °C. A humidity sensor that says a little more than 100 % is taken at 100 %.
 * Null for humidity near 0, which no open air has, and for temperatures outside the formula's range.
 */
export function dewPointC(airC: number, humidityPercent: number): number | null {
  if (!(humidityPercent >= 1) || !(airC >= -60 && airC <= 60)) return null
  return psychrolib.GetTDewPointFromRelHum(airC, Math.min(100, humidityPercent) / 100)
}
