/** The battery as its voltage shows it: at rest, under load, falling, and how long until the cut-off. */
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { SitePlan } from './plan.js'
import { between, remember } from './ring.js'
import type { EngineState } from './state.js'
import { fitLine, median } from './stats.js'

/** After a run the voltage climbs back for a while; only then is it at rest. */
const RECOVER_MS = 2 * MINUTE
const HOURS_KEPT = 12
const RESTING_KEPT = 40

export function isLoaded(state: EngineState, at: Ms): boolean {
  const { run, lastEndAt } = state.pump
  if (run !== null && run.end === null) return true
  return lastEndAt !== null && at - lastEndAt < RECOVER_MS
}

export function takeVoltage(state: EngineState, t: Ms, volts: number): void {
  const { battery, pump } = state
  remember(battery.volts, t, volts)
  const { run } = pump
  if (run !== null && run.end === null && run.offAt === null) {
    run.vSum += volts
    run.vMin = run.vN === 0 ? volts : Math.min(run.vMin, volts)
    run.vN += 1
  }
  const hour = Math.floor(t / HOUR)
  if (hour !== battery.hour) closeHour(state, hour)
  if (!isLoaded(state, t) && battery.resting.length < RESTING_KEPT) battery.resting.push(volts)
}

function closeHour(state: EngineState, hour: number): void {
  const { battery } = state
  if (battery.resting.length >= 3) {
    battery.hourT.push(battery.hour * HOUR + HOUR / 2)
    battery.hourV.push(median(battery.resting))
    if (battery.hourT.length > HOURS_KEPT) {
      battery.hourT.shift()
      battery.hourV.shift()
    }
  }
  battery.resting = []
  battery.hour = hour
}

/** Median of the last minute; null when the newest is older than `staleMs`. */
export function recentVoltage(state: EngineState, at: Ms, staleMs: number): number | null {
  const { volts } = state.battery
  const newest = volts.t.at(-1)
  if (newest === undefined || at - newest > staleMs) return null
  return median(between(volts, Math.min(newest, at - MINUTE), at))
}

/** Keeps `lowSince` at a look. A dip at the pump's start is over long before it counts. */
export function lookAtVoltage(plan: SitePlan, state: EngineState, at: Ms, recentV: number | null): void {
  const { battery } = state
  if (plan.limits === null || recentV === null) return
  const limit = isLoaded(state, at) ? plan.limits.loaded : plan.limits.rest
  const deadband = battery.lowSince === null ? 0 : 0.008 * limit
  if (recentV < limit + deadband) {
    battery.lowSince ??= at
    battery.lastLowAt = at
  } else battery.lowSince = null
  if (recentV >= plan.limits.rejoin) battery.lastLowAt = null
}

/** Fall of the resting voltage over the last six hours, V/h; null when it does not fall or too little is known. */
export function fallVH(state: EngineState, at: Ms): number | null {
  return fallOf(state, at)?.perH ?? null
}

/** The same with its relative standard uncertainty. */
export function fallOf(state: EngineState, at: Ms): { readonly perH: number; readonly relativeSd: number } | null {
  const { hourT, hourV } = state.battery
  const x: number[] = []
  const y: number[] = []
  for (let i = 0; i < hourT.length; i += 1) {
    const t = hourT[i] ?? 0
    if (at - t > 7 * HOUR) continue
    x.push((t - at) / HOUR)
    y.push(hourV[i] ?? 0)
  }
  if (x.length < 4) return null
  const fitted = fitLine(x, y)
  return fitted !== null && fitted.slope < 0
    ? { perH: -fitted.slope, relativeSd: fitted.slopeSd / -fitted.slope }
    : null
}
