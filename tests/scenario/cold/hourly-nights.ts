/**
 * Nights of an hourly weather file (columns of the US National Solar Radiation Data Base: TMY3), as this program would
 * have seen them: two hours after sunset it knows the temperature then, the dew point, the fall since sunset and the
 * day's sun. Months of such a year come from different years: a night is used only inside its month.
 */
import { readFileSync } from 'node:fs'
import { generalMinimum, ownMinimum } from '../../../src/infer/cold/methods.js'
import type { Night } from '../../../src/infer/cold/state.js'
import { sunDay } from '../../../src/infer/sun/day.js'
import { DAY, HOUR } from '../../../src/model/time.js'

/** Greensboro, North Carolina, station 723170. */
const GREENSBORO = { latitudeDeg: 36.1, longitudeDeg: -79.95, elevationM: 273 }
const UTC_OFFSET_H = -5
/** The weather's own word for clear and calm; the predictions never see it. */
const CLEAR_TENTHS = 2
const CALM_MS = 2

export type FileNight = Night & {
  readonly month: string
  readonly clearCalm: boolean
  readonly nightH: number
  readonly atSunset: number
  readonly before: number | null
}

type Hour = {
  readonly c: number
  readonly td: number
  readonly ghi: number
  readonly wind: number
  readonly cloud: number
}

export function readNights(file: string): FileNight[] {
  const [head = '', ...lines] = readFileSync(file, 'utf8').trim().split('\n')
  const names = head.split(',')
  const column = (name: string): number => {
    const at = names.indexOf(name)
    if (at < 0) throw new Error(`${file}: no column "${name}", found ${head}`)
    return at
  }
  const [date, c, td, ghi, wind, cloud] = [
    'date',
    'dry_bulb_c',
    'dew_point_c',
    'ghi_w_m2',
    'wind_m_s',
    'cloud_tenths',
  ].map(column)
  const rows = lines.map((line) => line.split(','))
  const value = (row: readonly string[], at: number | undefined) => Number(row[at ?? -1])
  const hours = rows.map(
    (row): Hour => ({
      c: value(row, c),
      td: value(row, td),
      ghi: value(row, ghi),
      wind: value(row, wind),
      cloud: value(row, cloud),
    }),
  )
  const dates = rows.filter((_, i) => i % 24 === 0).map((row) => row[date ?? -1] ?? '')
  return nightsOf(hours, dates)
}

function nightsOf(hours: readonly Hour[], dates: readonly string[]): FileNight[] {
  const sums = dates.map((_, day) => hours.slice(day * 24, day * 24 + 24).reduce((sum, hour) => sum + hour.ghi, 0))
  const nights: FileNight[] = []
  let lastDay = -2
  for (let day = 0; day + 1 < dates.length; day += 1) {
    const date = dates[day] ?? ''
    if (date.slice(0, 7) !== dates[day + 1]?.slice(0, 7)) continue
    const midnight = Date.parse(`${date}T00:00:00Z`) - UTC_OFFSET_H * HOUR
    const { sunset } = sunDay(GREENSBORO, midnight)
    const { sunrise } = sunDay(GREENSBORO, midnight + DAY)
    if (sunset === null || sunrise === null) continue
    // Row 0 is the hour that ends at 01:00: its figure is taken for that moment.
    const moment = (t: number, of: (hour: Hour) => number): number => {
      const at = (t - midnight) / HOUR - 1 + day * 24
      const low = hours[Math.floor(at)]
      const high = hours[Math.floor(at) + 1]
      if (low === undefined || high === undefined) throw new Error(`${date}: beyond the file`)
      return of(low) + (at % 1) * (of(high) - of(low))
    }
    const from = Math.ceil((sunset + 2 * HOUR - midnight) / HOUR) - 1 + day * 24
    const to = Math.floor((sunrise + HOUR - midnight) / HOUR) - 1 + day * 24
    const dark = hours.slice(from, to + 1)
    const mean = (of: (hour: Hour) => number) => dark.reduce((sum, hour) => sum + of(hour), 0) / dark.length
    const t0 = moment(sunset + 2 * HOUR, (hour) => hour.c)
    const atSunset = moment(sunset, (hour) => hour.c)
    const min = Math.min(...dark.map((hour) => hour.c))
    const best = Math.max(...sums.slice(Math.max(0, day - 14), day + 1))
    nights.push({
      month: date.slice(5, 7),
      clearCalm: mean((hour) => hour.cloud) <= CLEAR_TENTHS && mean((hour) => hour.wind) < CALM_MS,
      nightH: (sunrise - sunset) / HOUR,
      t0,
      td: moment(sunset + 2 * HOUR, (hour) => hour.td),
      fall: atSunset - t0,
      sun: best > 0 ? (sums[day] ?? 0) / best : null,
      atSunset,
      marks: [],
      min,
      before: lastDay === day - 1 ? (nights.at(-1)?.min ?? null) : null,
    })
    lastDay = day
  }
  return nights
}

export type Comparison = {
  readonly nights: number
  /** Root-mean-square error, °C. */
  readonly own: number
  readonly general: number
  readonly persistence: number
  readonly straightTrend: number
  readonly rootTrend: number
}

/**
 * Clear, calm nights, each predicted from the nights of the other months only.
 * `straightTrend`: the fall since sunset goes on as it was; `rootTrend`: as the root of the time, as nights do.
 */
export function compare(nights: readonly FileNight[], which = (night: FileNight) => night.clearCalm): Comparison {
  const tested = nights.filter((night) => which(night) && night.before !== null)
  const rms = (predict: (night: FileNight) => number | null): number => {
    const squares = tested.map((night) => (night.min - (predict(night) ?? Number.NaN)) ** 2)
    return Math.sqrt(squares.reduce((sum, one) => sum + one, 0) / squares.length)
  }
  return {
    nights: tested.length,
    own: rms((night) =>
      ownMinimum(
        nights.filter((other) => other.month !== night.month),
        night,
      ),
    ),
    general: rms((night) => generalMinimum(night.t0, night.fall, night.nightH)),
    persistence: rms((night) => night.before),
    straightTrend: rms((night) => night.t0 - (night.fall / 2) * (night.nightH - 2)),
    rootTrend: rms((night) => night.atSunset - night.fall * Math.sqrt(night.nightH / 2)),
  }
}
