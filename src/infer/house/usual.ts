/** What is usual of the pressure pump: the medians of its last fourteen days without trouble. */
import { DAY, type Ms } from '../../model/time.js'
import { median, quantile } from '../stats.js'
import type { HouseDay, HouseState } from './state.js'

const DAYS_KEPT = 14
export const HOUSE_DAYS_LEAST = 3
/** A day with fewer runs than this was hardly lived. */
const RUNS_LEAST = 5

type HouseUsual = { readonly [Name in keyof HouseDay]: number | null }

const NOTHING: HouseUsual = {
  runS: null,
  longestS: null,
  pauseS: null,
  starts: null,
  busyHour: null,
  amperes: null,
  lowPa: null,
  highPa: null,
}

/** By the days that it rests on, so that it is reckoned once a day and not for each reading; nothing else hangs on it. */
const cache = new WeakMap<readonly HouseDay[], { readonly last: HouseDay | undefined; readonly usual: HouseUsual }>()

export function usualHouse(house: HouseState): HouseUsual {
  if (house.days.length < HOUSE_DAYS_LEAST) return NOTHING
  const last = house.days.at(-1)
  const known = cache.get(house.days)
  if (known !== undefined && known.last === last) return known.usual
  const usual = reckon(house.days)
  cache.set(house.days, { last, usual })
  return usual
}

function reckon(days: readonly HouseDay[]): HouseUsual {
  const of = (name: keyof HouseDay): number | null => {
    const values = days.flatMap((day) => day[name] ?? [])
    return values.length < HOUSE_DAYS_LEAST ? null : median(values)
  }
  return {
    runS: of('runS'),
    longestS: of('longestS'),
    pauseS: of('pauseS'),
    starts: of('starts'),
    busyHour: of('busyHour'),
    amperes: of('amperes'),
    lowPa: of('lowPa'),
    highPa: of('highPa'),
  }
}

/** At a look: closes the day when it is over. A day is 24 h of universal time; the figures do not hang on its edges. */
export function followHouseDay(house: HouseState, at: Ms): void {
  const day = Math.floor(at / DAY)
  if (day === house.day) return
  const { runs, amps, starts } = house
  if (house.day !== 0 && !house.spoilt && runs.length >= RUNS_LEAST) {
    const lows = starts.flatMap((start) => start.lowPa ?? [])
    const highs = starts.flatMap((start) => start.highPa ?? [])
    house.days.push({
      runS: median(runs),
      longestS: house.longestS,
      pauseS: house.pauses.length < RUNS_LEAST ? null : quantile(house.pauses, 0.1),
      starts: house.startsToday,
      busyHour: house.busyHour,
      amperes: amps.length === 0 ? null : median(amps),
      lowPa: lows.length < RUNS_LEAST ? null : quantile(lows, 0.1),
      highPa: highs.length < RUNS_LEAST ? null : quantile(highs, 0.9),
    })
    if (house.days.length > DAYS_KEPT) house.days.shift()
  }
  house.day = day
  house.runs = []
  house.pauses = []
  house.amps = []
  house.startsToday = 0
  house.busyHour = 0
  house.startsThisHour = 0
  house.longestS = 0
  house.spoilt = false
}

/** A new pump, switch or accumulator: what was usual is no guide. */
export function rebaseHouse(house: HouseState): void {
  house.days = []
  house.starts = []
  house.regular = null
  house.spoilt = true
}
