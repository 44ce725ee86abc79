/**
 * The hour's balance of energy: what the array could have given and gave, when it was held back, what pump and house
 * took. A few sums for each reading; a row at each full hour.
 */
import type { BalanceFacts, EnergyHour } from '../../model/facts-balance.js'
import type { Chemistry } from '../../model/settings.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { median } from '../stats.js'
import type { SunCourse } from '../sun/position.js'
import { type ArrayPlace, arrayPlaceOf, clearHour, clearOnPlane, courseOfDay } from './clear.js'

const GAP_MS = 5 * MINUTE
const CLEAR_EVERY_MS = 2 * MINUTE
/** Below this share of its rating the array's sun does not count as up. */
const SUN_UP = 0.02
const WHOLE = 0.8
const HOURS_KEPT = 24
const MISSING_MAX = 4

/** From here up a 12 V battery of this chemistry may be full: absorption and float lie above [common practice]. */
const FULL_FROM_V: Record<Chemistry, number> = { lifepo4: 13.35, flooded: 13.3, agm: 13.3, gel: 13.3 }
/** A panel that is held back leaves its working voltage towards the open one, some 1.2 times as high [common practice]. */
const HELD_RATIO = 1.03
const WORK_SHARE = 0.002
/** Most charge controllers pass on 94 to 97 % [common practice]; stands until the site's own is learned. */
const PRIOR_CONVERTER = 0.95
const SLOPES_KEPT = 40

export type BalanceState = {
  /** Start of the hour under way; 0: none yet. */
  hour: Ms
  panelT: Ms
  panelW: number
  harvestWs: number
  harvestS: number
  freeWs: number
  freeClearWs: number
  freeS: number
  heldS: number
  held: boolean
  pumpT: Ms
  pumpW: number
  pumpWs: number
  pumpS: number
  batteryT: Ms
  batteryW: number
  chargeWs: number
  dischargeWs: number
  batteryS: number
  /** The panel's voltage while nothing holds it back; 0: not seen yet. */
  workV: number
  /** Battery power over panel power within the hour: its slope is the share that reaches battery and loads. */
  fitN: number
  fitX: number
  fitY: number
  fitXx: number
  fitXy: number
  fitYy: number
  slopes: number[]
  converter: number
  /** The sun's way on the UTC day under way, and the clear sky on the array at `clearT`. */
  course: SunCourse | null
  clearT: Ms
  clear: number
  /** Of the last whole hours, oldest first: harvest, clear, pump, load. */
  last: (readonly [number | null, number | null, number | null, number | null])[]
  /** Their sums, worked out once an hour. */
  sums: (number | null)[]
}

export function createBalance(): BalanceState {
  return {
    hour: 0,
    panelT: 0,
    panelW: 0,
    harvestWs: 0,
    harvestS: 0,
    freeWs: 0,
    freeClearWs: 0,
    freeS: 0,
    heldS: 0,
    held: false,
    pumpT: 0,
    pumpW: 0,
    pumpWs: 0,
    pumpS: 0,
    batteryT: 0,
    batteryW: 0,
    chargeWs: 0,
    dischargeWs: 0,
    batteryS: 0,
    workV: 0,
    fitN: 0,
    fitX: 0,
    fitY: 0,
    fitXx: 0,
    fitXy: 0,
    fitYy: 0,
    slopes: [],
    converter: PRIOR_CONVERTER,
    course: null,
    clearT: 0,
    clear: 0,
    last: [],
    sums: [null, null, null, null],
  }
}

type Fixed = { readonly array: ArrayPlace | null; readonly fullFromV: number | null; readonly lithium: boolean }
const fixedOf = new WeakMap<SitePlan, Fixed>()

function fixed(plan: SitePlan): Fixed {
  let found = fixedOf.get(plan)
  if (found === undefined) {
    const { battery } = plan.site
    found = {
      array: arrayPlaceOf(plan.site),
      fullFromV: battery === null ? null : (FULL_FROM_V[battery.chemistry] * battery.nominalVoltageV) / 12,
      lithium: battery?.chemistry === 'lifepo4',
    }
    fixedOf.set(plan, found)
  }
  return found
}

function newestVolts(state: EngineState): number | null {
  return state.battery.volts.v.at(-1) ?? null
}

/** A reading of the panel's current. `panelV` of the state is the latest voltage of the panel. */
export function takePanel(plan: SitePlan, state: EngineState, t: Ms, amperes: number): void {
  const { balance, panelV } = state
  if (panelV === null) return
  const { array } = fixed(plan)
  if (array !== null && t - balance.clearT >= CLEAR_EVERY_MS) refreshClear(balance, array, t)
  const watts = amperes * panelV
  const dt = t - balance.panelT
  const ws = dt > 0 && dt <= GAP_MS ? ((watts + balance.panelW) / 2) * (dt / 1000) : null
  balance.panelT = t
  balance.panelW = watts
  balance.held = isHeld(plan, state, panelV, watts)
  if (ws === null) return
  balance.harvestWs += ws
  balance.harvestS += dt / 1000
  if (array === null || balance.clear < SUN_UP) return
  if (balance.held) balance.heldS += dt / 1000
  else {
    balance.freeS += dt / 1000
    balance.freeWs += ws
    balance.freeClearWs += array.ratedW * balance.clear * (dt / 1000)
  }
}

function refreshClear(balance: BalanceState, array: ArrayPlace, t: Ms): void {
  if (balance.course === null || t < balance.course.from || t >= balance.course.from + 24 * HOUR) {
    balance.course = courseOfDay(array.place, t)
  }
  balance.clearT = t
  balance.clear = clearOnPlane(balance.course, array.plane, t)
}

/** Held back: the battery may be full (or is too cold to take charge), and the panel has left its working voltage. */
function isHeld(plan: SitePlan, state: EngineState, panelV: number, watts: number): boolean {
  const { balance, battery } = state
  const { fullFromV, lithium, array } = fixed(plan)
  const volts = newestVolts(state)
  if (volts === null || fullFromV === null) return false
  const cold = lithium && battery.temperatureC !== null && battery.temperatureC < 2
  if (volts < fullFromV && !cold) {
    const working = array !== null && watts > 0.03 * array.ratedW
    if (working) balance.workV += (balance.workV === 0 ? 1 : WORK_SHARE) * (panelV - balance.workV)
    return false
  }
  return balance.workV === 0 || panelV > HELD_RATIO * balance.workV
}

/** A reading of the battery's current, + charges. */
export function takeBatteryCurrent(state: EngineState, t: Ms, amperes: number): void {
  const { balance, pump } = state
  const volts = newestVolts(state)
  if (volts === null) return
  const watts = amperes * volts
  const dt = t - balance.batteryT
  if (dt > 0 && dt <= GAP_MS) {
    const ws = ((watts + balance.batteryW) / 2) * (dt / 1000)
    if (ws > 0) balance.chargeWs += ws
    else balance.dischargeWs -= ws
    balance.batteryS += dt / 1000
  }
  balance.batteryT = t
  balance.batteryW = watts
  if (pump.run !== null || balance.held || t - balance.panelT > 15_000 || balance.panelW <= 0) return
  const x = balance.panelW
  balance.fitN += 1
  balance.fitX += x
  balance.fitY += watts
  balance.fitXx += x * x
  balance.fitXy += x * watts
  balance.fitYy += watts * watts
}

/** A reading of the pump's current, after the pump's own account has taken it. */
export function takePumpPower(state: EngineState, t: Ms, amperes: number): void {
  const { balance, pump } = state
  const running = pump.run !== null && pump.run.end === null && pump.run.offAt === null
  const watts = running ? Math.max(0, amperes - pump.zeroA) * (newestVolts(state) ?? 0) : 0
  const dt = t - balance.pumpT
  if (dt > 0 && dt <= GAP_MS) {
    balance.pumpWs += ((watts + balance.pumpW) / 2) * (dt / 1000)
    balance.pumpS += dt / 1000
  }
  balance.pumpT = t
  balance.pumpW = watts
}

/**
 * Closes the hour that ends at `at` and hands it over; called at each look on the full hour, before the state is stored.
 */
export function closeHour(plan: SitePlan, state: EngineState, at: Ms, hand: (hour: EnergyHour) => void): void {
  const { balance } = state
  const from = at - HOUR
  const began = balance.hour
  balance.hour = at
  if (began !== from) {
    empty(balance)
    return
  }
  learnConverter(balance, fixed(plan).array?.ratedW ?? 100)
  const row = rowOf(plan, state, from)
  balance.last.push([row.harvestWh, row.clearWh, row.pumpWh, row.loadWh])
  if (balance.last.length > HOURS_KEPT) balance.last.shift()
  balance.sums = [sumOf(balance, 0), sumOf(balance, 1), sumOf(balance, 2), sumOf(balance, 3)]
  empty(balance)
  hand(row)
}

function rowOf(plan: SitePlan, state: EngineState, from: Ms): EnergyHour {
  const { balance } = state
  const { array } = fixed(plan)
  const sums = scaled(balance)
  const clear = array === null ? null : clearHour(courseOfDay(array.place, from), array.plane, from) * array.ratedW
  const sunS = balance.heldS + balance.freeS
  const seen = array !== null && clear !== null && balance.harvestS > 0
  return {
    at: from,
    covered: Math.min(1, Math.min(balance.harvestS, balance.batteryS, balance.pumpS) / 3600),
    harvestWh: sums.harvestWh,
    clearWh: clear,
    freeWh: seen ? balance.freeWs / 3600 : null,
    freeClearWh: seen ? balance.freeClearWs / 3600 : null,
    heldShare: seen && sunS > 0 ? balance.heldS / sunS : null,
    pumpWh: sums.pumpWh,
    loadWh: loadOf(plan, balance, sums),
    chargeWh: sums.chargeWh,
    dischargeWh: sums.dischargeWh,
    batteryC: from - state.battery.temperatureT < HOUR ? state.battery.temperatureC : null,
    airC: from - state.airT < HOUR ? state.airC : null,
  }
}

type Sums = Pick<EnergyHour, 'harvestWh' | 'pumpWh' | 'chargeWh' | 'dischargeWh'>

function scaled(balance: BalanceState): Sums {
  const whole = (ws: number, seconds: number): number | null => (seconds >= WHOLE * 3600 ? ws / seconds : null)
  return {
    harvestWh: whole(balance.harvestWs, balance.harvestS),
    pumpWh: whole(balance.pumpWs, balance.pumpS),
    chargeWh: whole(balance.chargeWs, balance.batteryS),
    dischargeWh: whole(balance.dischargeWs, balance.batteryS),
  }
}

/** What house and boards took: what came from the array and the battery, less what the pump took. */
function loadOf(plan: SitePlan, balance: BalanceState, sums: Sums): number | null {
  const { harvestWh, pumpWh, chargeWh, dischargeWh } = sums
  if (pumpWh === null || chargeWh === null || dischargeWh === null) return null
  const panel = plan.index['panel-current'] === undefined ? null : harvestWh
  if (panel === null) return null
  return Math.max(0, panel * balance.converter + dischargeWh - chargeWh - pumpWh)
}

/** Clouds move the panel's power within the hour while the loads stand still: the battery follows by the converter's share. */
function learnConverter(balance: BalanceState, ratedW: number): void {
  const n = balance.fitN
  if (n < 60) return
  const sxx = balance.fitXx - balance.fitX ** 2 / n
  const sxy = balance.fitXy - (balance.fitX * balance.fitY) / n
  const syy = balance.fitYy - balance.fitY ** 2 / n
  if (sxx / n < (0.08 * ratedW) ** 2 || syy <= 0) return
  const slope = sxy / sxx
  if (slope < 0.6 || slope > 1.05 || (sxy * sxy) / (sxx * syy) < 0.95) return
  balance.slopes.push(Math.min(1, slope))
  if (balance.slopes.length > SLOPES_KEPT) balance.slopes.shift()
  if (balance.slopes.length >= 5) balance.converter = median(balance.slopes)
}

function empty(balance: BalanceState): void {
  balance.harvestWs = 0
  balance.harvestS = 0
  balance.freeWs = 0
  balance.freeClearWs = 0
  balance.freeS = 0
  balance.heldS = 0
  balance.pumpWs = 0
  balance.pumpS = 0
  balance.chargeWs = 0
  balance.dischargeWs = 0
  balance.batteryS = 0
  balance.fitN = 0
  balance.fitX = 0
  balance.fitY = 0
  balance.fitXx = 0
  balance.fitXy = 0
  balance.fitYy = 0
}

/** What a look says of it. */
export function lookAtBalance(plan: SitePlan, state: EngineState, at: Ms, out: BalanceFacts): void {
  const { balance } = state
  const { array } = fixed(plan)
  const fresh = at - balance.panelT <= GAP_MS && balance.clear >= SUN_UP
  out.heldBack = fresh ? balance.held : null
  out.clearSkyW = array !== null && at - balance.clearT <= GAP_MS ? balance.clear * array.ratedW : null
  out.harvestWh = balance.sums[0] ?? null
  out.clearWh = balance.sums[1] ?? null
  out.pumpWh = balance.sums[2] ?? null
  out.loadWh = balance.sums[3] ?? null
  out.converterShare = balance.converter
  out.converterLossWh = out.harvestWh === null ? null : out.harvestWh * (1 - out.converterShare)
}

function sumOf(balance: BalanceState, column: 0 | 1 | 2 | 3): number | null {
  let sum = 0
  let n = 0
  for (const row of balance.last) {
    const value = row[column]
    if (value === null) continue
    sum += value
    n += 1
  }
  return n < HOURS_KEPT - MISSING_MAX ? null : (sum * HOURS_KEPT) / n
}
