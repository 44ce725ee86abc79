/** What is so of the pressure pump at one look. */
import type { HouseFacts } from '../../model/facts-house.js'
import { HOUR, MINUTE, type Ms, SECOND } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import { median } from '../stats.js'
import type { HouseStart, HouseState, RegularState } from './state.js'
import { followHouseDay, usualHouse } from './usual.js'

const LATELY_MS = 30 * MINUTE
const LAST_RUNS = 8
/** Starts in a row, like clockwork, before they are taken as such: five equal pauses are chance once in many years. */
const REGULAR_LEAST = 6
/** A pause may differ from the others by this share, and by the two sampling intervals that hide its ends. */
const ALIKE = 0.12
const ALIKE_LEAST_S = 25
/** Water that goes of itself takes less than this share of what the pump brings; a shower or a hose takes more. */
const DUTY_MAX = 0.2
const PAUSE_MAX_MS = 4 * HOUR
/** So many pauses without a start, and whatever took the water has stopped. */
const HELD_PAUSES = 2.5

export function lookAtHouse(plan: SitePlan, house: HouseState, at: Ms, out: HouseFacts): void {
  const current = plan.index['house-pump-current']
  const pressure = plan.index['house-pressure']
  if (current === undefined && pressure === undefined) return
  const fresh = (index: number | undefined, t: Ms): boolean =>
    index !== undefined && t > 0 && at - t <= (plan.signals[index]?.staleMs ?? 0)
  const currentFresh = fresh(current, house.aT)
  const pressureFresh = fresh(pressure, house.paT)
  followHouseDay(house, at)
  out.known = currentFresh || pressureFresh
  out.running = currentFresh ? house.on : null
  out.runningSince = currentFresh && house.on ? house.firstOn : null
  out.currentA = currentFresh ? house.a : null
  out.pressurePa = pressureFresh ? house.pa : null
  lately(house, at, out)
  followRegular(house, at)
  out.regular = house.regular
  out.lowSince = pressureFresh ? house.lowSince : null
  out.highSince = pressureFresh ? house.highSince : null
  usuals(house, out)
  if (out.regular !== null || spoils(out, at)) house.spoilt = true
}

function usuals(house: HouseState, out: HouseFacts): void {
  const usual = usualHouse(house)
  out.usualRunS = usual.runS
  out.usualLongestRunS = usual.longestS
  out.usualPauseS = usual.pauseS
  out.usualStartsADay = usual.starts
  out.usualBusyHour = usual.busyHour
  out.usualA = usual.amperes
  out.usualLowPa = usual.lowPa
  out.usualHighPa = usual.highPa
  out.days = house.days.length
}

/** Trouble teaches nothing: pressure that is gone, a pump that runs on, or short runs one upon the other. */
function spoils(out: HouseFacts, at: Ms): boolean {
  if (out.lowSince !== null && at - out.lowSince > 5 * MINUTE) return true
  if (out.highSince !== null) return true
  if (out.runningSince !== null && at - out.runningSince > 30 * MINUTE) return true
  return out.usualRunS !== null && out.shortestRunS !== null && out.shortestRunS < 0.5 * out.usualRunS
}

function lately(house: HouseState, at: Ms, out: HouseFacts): void {
  const { starts } = house
  let count = 0
  let sumS = 0
  let ended = 0
  let shortestS = Number.POSITIVE_INFINITY
  let lastEnded = 0
  const pauses: number[] = []
  out.firstStart = null
  for (let i = starts.length - 1; i >= 0; i -= 1) {
    const start = starts[i]
    if (start === undefined) break
    const recent = at - start.t <= LATELY_MS && start.t >= house.whole
    if (recent) {
      count += 1
      if (out.firstStart !== null) pauses.push((out.firstStart - start.t) / SECOND)
      out.firstStart = start.t
    }
    if (start.runS !== null) {
      if (recent) {
        sumS += start.runS
        ended += 1
      }
      if (lastEnded < LAST_RUNS) {
        if (start.runS < shortestS) shortestS = start.runS
        lastEnded += 1
      }
    }
    if (!recent && lastEnded >= LAST_RUNS) break
  }
  out.startsIn30Min = count
  out.meanRunS = ended === 0 ? null : sumS / ended
  out.shortestRunS = lastEnded < LAST_RUNS ? null : shortestS
  out.pauseS = count < LAST_RUNS ? null : median(pauses)
}

/** Once seen, it stays so until the pressure has held for much longer than the pauses were: a draw only hides it. */
function followRegular(house: HouseState, at: Ms): void {
  const last = house.starts.at(-1)
  if (last === undefined) return
  const { regular } = house
  if (regular !== null) {
    if (house.whole > last.t) {
      // What happened in a gap is not known: the pauses are counted from its end.
      if (at - house.whole > HELD_PAUSES * regular.intervalS * SECOND) house.regular = null
    } else if (at - last.t > HELD_PAUSES * regular.intervalS * SECOND) house.regular = null
  }
  const found = regularNow(house.starts, house.whole)
  if (found === null) return
  const since = house.regular?.since ?? found.since
  house.regular = { ...found, since, count: countSince(house.starts, since) }
}

function countSince(starts: readonly HouseStart[], since: Ms): number {
  let count = 0
  for (const start of starts) if (start.t >= since) count += 1
  return count
}

/** The latest starts, if their pauses are alike and their runs short against them. */
function regularNow(starts: readonly HouseStart[], whole: Ms): RegularState | null {
  const from = starts.length - REGULAR_LEAST
  const first = starts[from]
  if (first === undefined || first.t < whole) return null
  let least = Number.POSITIVE_INFINITY
  let most = 0
  let runS = 0
  let runs = 0
  const pauses: number[] = []
  for (let i = from; i < starts.length; i += 1) {
    const start = starts[i]
    const next = starts[i + 1]
    if (start === undefined) return null
    if (start.runS !== null) {
      runS += start.runS
      runs += 1
    }
    if (next === undefined) break
    const pauseS = (next.t - start.t) / SECOND
    pauses.push(pauseS)
    if (pauseS < least) least = pauseS
    if (pauseS > most) most = pauseS
  }
  if (runs === 0 || most * SECOND > PAUSE_MAX_MS) return null
  const middleS = median(pauses)
  if (most - least > 2 * Math.max(ALIKE_LEAST_S, ALIKE * middleS)) return null
  if (most - least > middleS || runS / runs > DUTY_MAX * middleS) return null
  return { since: first.t, count: REGULAR_LEAST, intervalS: middleS, spreadS: (most - least) / 2, runS: runS / runs }
}
