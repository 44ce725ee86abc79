/** Sunrise, noon and sunset of a day. */
import { Body, Observer, SearchHourAngle, SearchRiseSet } from 'astronomy-engine'
import { DAY, SECOND, type Ms } from '../../model/time.js'
import type { Place } from './place.js'
import { sunAt } from './position.js'

export type SunDay = {
  /** When the sun stands highest. */
  readonly noon: Ms
  /** Upper edge of the sun on a level horizon, with refraction; null: it does not rise or set that day. */
  readonly sunrise: Ms | null
  readonly sunset: Ms | null
  /** Seconds of sun: 0 in polar night, 86,400 in polar day. */
  readonly lengthS: number
}

/**
 * The sun's day whose noon follows `from`, so that a local day is asked for by its own midnight. Some milliseconds:
 * ask once a day and keep the answer. Sunrise and sunset are those before and after that noon, even where the day of
 * the calendar ends between (a place far from the middle of its time zone).
 */
export function sunDay(place: Place, from: Ms): SunDay {
  const observer = new Observer(place.latitudeDeg, place.longitudeDeg, place.elevationM)
  const noon = SearchHourAngle(Body.Sun, observer, 0, new Date(from)).time.date.getTime()
  const half = DAY / 2
  const rises = SearchRiseSet(Body.Sun, observer, +1, new Date(noon - half), 0.5)
  const sets = SearchRiseSet(Body.Sun, observer, -1, new Date(noon), 0.5)
  const sunrise = rises === null ? null : rises.date.getTime()
  const sunset = sets === null ? null : sets.date.getTime()
  return { noon, sunrise, sunset, lengthS: lengthS(place, noon, sunrise, sunset) }
}

function lengthS(place: Place, noon: Ms, sunrise: Ms | null, sunset: Ms | null): number {
  if (sunrise !== null && sunset !== null) return (sunset - sunrise) / SECOND
  if (sunrise === null && sunset === null) return sunAt(place, noon).elevationDeg > 0 ? DAY / SECOND : 0
  // The one day in which it begins or ceases to set.
  return sunrise === null ? ((sunset ?? noon) - noon + DAY / 2) / SECOND : (noon + DAY / 2 - sunrise) / SECOND
}
