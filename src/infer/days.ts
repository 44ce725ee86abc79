/** The site's calendar days: what was pumped, used, spent and measured, and how much of the day had data at all. */
import type { Day, Figure, FillCycle } from '../model/fill.js'
import type { Ms } from '../model/time.js'
import { divide } from './figure.js'
import type { SitePlan } from './plan.js'
import type { DayState, EngineState } from './state.js'

/** Days kept open for what may still belong to them: probe accounts close with the next full fill. */
const OPEN_DAYS = 12

export function dayAt(plan: SitePlan, state: EngineState, t: Ms): DayState {
  const last = state.days.at(-1)
  if (last !== undefined && t >= last.start && t < last.end) return last
  for (const day of state.days) if (t >= day.start && t < day.end) return day
  const local = plan.calendar.dayOf(t)
  const day: DayState = {
    date: local.date,
    start: local.start,
    end: local.end,
    fills: 0,
    runS: 0,
    pumpedL: 0,
    pumpedVar: 0,
    pumpedKnown: true,
    pumpWh: 0,
    pumpWhVar: 0,
    energyKnown: true,
    batteryMin: null,
    batteryMax: null,
    harvestWs: 0,
    harvestS: 0,
    airMin: null,
    airMax: null,
    coveredMs: 0,
    volumeStart: null,
    volumeEnd: null,
    usedL: 0,
    usedVar: 0,
    usedFrom: null,
    usedTo: null,
    dirty: true,
  }
  state.days.push(day)
  state.days.sort((a, b) => a.start - b.start)
  if (state.days.length > OPEN_DAYS) state.days.shift()
  return day
}

/** Divides a fill over the days it touches, by time. The day in which it ended counts it. */
export function addFill(plan: SitePlan, state: EngineState, cycle: FillCycle): void {
  const span = Math.max(1, cycle.end - cycle.start)
  let from = cycle.start
  while (from < cycle.end) {
    const day = dayAt(plan, state, from)
    const to = Math.min(cycle.end, day.end)
    const part = (to - from) / span
    day.runS += (to - from) / 1000
    if (cycle.volumeL === null) day.pumpedKnown = false
    else {
      day.pumpedL += cycle.volumeL.value * part
      day.pumpedVar += (cycle.volumeL.sd * part) ** 2
    }
    if (cycle.energyWh === null) day.energyKnown = false
    else {
      day.pumpWh += cycle.energyWh.value * part
      day.pumpWhVar += (cycle.energyWh.sd * part) ** 2
    }
    day.dirty = true
    from = to
  }
  dayAt(plan, state, cycle.end).fills += 1
}

/** Probes only: so many litres were used between two fills that both left the tank at the same mark. */
export function addUse(plan: SitePlan, state: EngineState, from: Ms, to: Ms, used: Figure): void {
  const span = Math.max(1, to - from)
  let t = from
  while (t < to) {
    const day = dayAt(plan, state, t)
    const end = Math.min(to, day.end)
    const part = (end - t) / span
    day.usedL += used.value * part
    // When within the interval it was used is not seen: a part of it may be anything between none and all.
    day.usedVar += (used.sd * part) ** 2 + 0.25 * used.value ** 2 * part * (1 - part)
    const joins = day.usedTo === null ? t <= day.start : t <= day.usedTo + 1000
    if (day.usedTo === null) day.usedFrom = t
    else if (!joins) day.usedFrom = t
    day.usedTo = end
    day.dirty = true
    t = end
  }
}

/** The day as a row. Unknown parts make the whole unknown. */
export function toDay(plan: SitePlan, day: DayState): Day {
  const pumpedL = day.pumpedKnown ? { value: day.pumpedL, sd: Math.sqrt(day.pumpedVar) } : null
  const pumpWh = day.energyKnown ? { value: day.pumpWh, sd: Math.sqrt(day.pumpWhVar) } : null
  const covered = Math.min(1, day.coveredMs / (day.end - day.start))
  const anything = covered > 0
  return {
    date: day.date,
    start: day.start,
    end: day.end,
    pumpedL: anything ? pumpedL : null,
    usedL: usedIn(plan, day, pumpedL),
    fills: day.fills,
    runS: day.runS,
    pumpWh: anything ? pumpWh : null,
    whPerL: day.fills > 0 ? divide(pumpWh, pumpedL) : null,
    batteryMinV: day.batteryMin,
    batteryMaxV: day.batteryMax,
    harvestWh:
      day.harvestS >= (0.8 * (covered * (day.end - day.start))) / 1000 && day.harvestS > 0
        ? day.harvestWs / 3600
        : null,
    airMinC: day.airMin,
    airMaxC: day.airMax,
    covered,
  }
}

/** Beyond so many standard deviations below nothing, it is no scatter of the readings. */
const UNSEEN_FILL_SDS = 4

function usedIn(plan: SitePlan, day: DayState, pumped: Figure | null): Figure | null {
  if (plan.index['tank-level'] === undefined) {
    const closed = day.usedFrom !== null && day.usedTo !== null && day.usedFrom <= day.start && day.usedTo >= day.end
    return closed ? { value: day.usedL, sd: Math.sqrt(day.usedVar) } : null
  }
  if (pumped === null || day.volumeStart === null || day.volumeEnd === null) return null
  const ends = plan.levelSdM * plan.areaLM
  const value = pumped.value + day.volumeStart - day.volumeEnd
  const sd = Math.hypot(pumped.sd, ends)
  // The tank gained more than was seen to be pumped: a fill fell into a gap, and what was used is not known.
  return value < -UNSEEN_FILL_SDS * sd ? null : { value: Math.max(0, value), sd }
}
