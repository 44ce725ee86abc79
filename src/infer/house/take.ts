/**
 * Current and pressure of the house's pressure pump, reading by reading. The current shows runs as samples see them:
 * to half an interval at either end. The pressure turns where the pump starts and stops; where a current is measured
 * too it only adds the starts that fell between two samples of it.
 */
import { DAY, HOUR, type Ms, SECOND } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { HouseState } from './state.js'
import { usualHouse } from './usual.js'

/** A pressure pump draws more than this when nothing is known of it; less than half of it is none. */
const ON_A = 0.6
/** Share of its own usual current from which it runs. */
const ON_SHARE = 0.2
/** The pressure has turned when it has come this far back: several times the noise of a cheap sensor. */
const TURN_PA = 15_000
const STARTS_KEPT = 64
const RUNS_KEPT = 40

export function takeHouseCurrent(plan: SitePlan, house: HouseState, t: Ms, amperes: number): void {
  const gapMs = gapOf(plan, 'house-pump-current')
  const usualA = usualHouse(house).amperes
  const limitA = usualA === null ? ON_A : Math.max(0.3, ON_SHARE * usualA)
  if (t - house.aT > gapMs) breakOff(house, t)
  if (house.on) {
    if (amperes < limitA / 2) stopped(house, t)
    else {
      house.lastOn = t
      if (house.amps.length < RUNS_KEPT && t - house.firstOn >= 10 * SECOND) house.amps.push(amperes)
    }
  } else if (amperes > limitA) {
    house.on = true
    house.firstOn = t
    house.lastOn = t
    const last = house.starts.at(-1)
    const startAt = house.whole === t ? t : (house.aT + t) / 2
    // The turn of the pressure in the same pack may have told of it already.
    if (last !== undefined && t - last.t < 1.5 * (t - house.aT) && last.runS !== null && last.t > house.aT - SECOND) {
      last.runS = null
    } else started(house, startAt, null)
  }
  house.a = amperes
  house.aT = t
}

export function takeHousePressure(plan: SitePlan, house: HouseState, t: Ms, pa: number): void {
  const before = house.paT
  if (t - before > gapOf(plan, 'house-pressure')) {
    house.lowPa = pa
    house.highPa = pa
    house.lowT = t
    house.highT = t
    house.rising = false
    if (plan.index['house-pump-current'] === undefined) breakOff(house, t)
  } else turn(plan, house, t, pa)
  const { lowPa, highPa } = usualHouse(house)
  house.lowSince = pa < (lowPa === null ? LOW_PA : 0.7 * lowPa) ? (house.lowSince ?? t) : null
  house.highSince = highPa !== null && pa > 1.3 * highPa ? (house.highSince ?? t) : null
  house.pa = pa
  house.paT = t
}

/** Less than half a bar is no pressure for a house, whatever its switch is set to (common practice). */
const LOW_PA = 50_000

function turn(plan: SitePlan, house: HouseState, t: Ms, pa: number): void {
  if (house.rising) {
    if (pa > house.highPa + TURN_PA / 5) {
      house.highPa = pa
      house.highT = t
    } else if (pa < house.highPa - TURN_PA) {
      house.rising = false
      house.lowPa = pa
      house.lowT = t
      if (plan.index['house-pump-current'] === undefined) endRun(house, house.highT)
      const last = house.starts.at(-1)
      if (last !== undefined) last.highPa = house.highPa
    }
    return
  }
  if (pa < house.lowPa || house.lowT === 0) {
    house.lowPa = pa
    house.lowT = t
  } else if (pa > house.lowPa + TURN_PA) {
    house.rising = true
    house.highPa = pa
    house.highT = t
    const seen = plan.index['house-pump-current'] !== undefined && (house.on || house.lastOn >= house.lowT)
    const last = house.starts.at(-1)
    if (seen) {
      if (last !== undefined) last.lowPa = house.lowPa
    } else {
      const missed = plan.index['house-pump-current'] !== undefined
      started(house, house.lowT, missed ? (t - house.paT) / 2 / SECOND : null, house.lowPa)
    }
  }
}

function started(house: HouseState, t: Ms, runS: number | null, lowPa: number | null = null): void {
  const before = house.starts.at(-1)
  if (before !== undefined && before.t >= house.whole && house.pauses.length < RUNS_KEPT) {
    if (t - before.t < HOUR) house.pauses.push((t - before.t) / SECOND)
  }
  house.starts.push({ t, runS, highPa: null, lowPa })
  if (house.starts.length > STARTS_KEPT) house.starts.shift()
  const hour = Math.floor(t / HOUR)
  if (hour !== house.hour) {
    house.hour = hour
    house.startsThisHour = 0
  }
  house.startsToday += 1
  house.startsThisHour += 1
  if (house.startsThisHour > house.busyHour) house.busyHour = house.startsThisHour
}

function stopped(house: HouseState, t: Ms): void {
  house.on = false
  endRun(house, (house.lastOn + t) / 2)
}

function endRun(house: HouseState, end: Ms): void {
  const last = house.starts.at(-1)
  if (last === undefined || last.runS !== null || last.t < house.whole) return
  last.runS = Math.max(0, end - last.t) / SECOND
  if (house.runs.length < RUNS_KEPT) house.runs.push(last.runS)
  if (last.runS > house.longestS) house.longestS = last.runS
}

/** After a gap nothing is known of a run that was under way, nor of the starts within the gap. */
function breakOff(house: HouseState, t: Ms): void {
  house.on = false
  house.whole = t
  house.lowSince = null
  house.highSince = null
}

/** A few samples may be lost without losing the thread. */
function gapOf(plan: SitePlan, role: 'house-pump-current' | 'house-pressure'): Ms {
  const index = plan.index[role]
  return index === undefined ? DAY : (plan.signals[index]?.gapMs ?? DAY)
}
