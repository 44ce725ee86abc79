/**
 * Whether the array brings anything in hours in which it should: the sun up, in a direction from which it has been seen
 * to reach the array, and the battery able to take charge. Judged in blocks of ten minutes.
 */
import type { ArrayFacts } from '../../model/facts-power.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import { type ArrayPlace, clearOnPlane, courseOfDay } from '../energy/clear.js'
import type { SitePlan } from '../plan.js'
import type { EngineState } from '../state.js'
import { median } from '../stats.js'
import { haurwitz } from '../sun/clear-sky.js'
import { sunDay } from '../sun/day.js'
import { clearSkyRadiation } from '../sun/fao.js'
import { moduleTemperatureC } from '../sun/module-temperature.js'
import { isotropicSky } from '../sun/plane.js'
import { type SunPosition, sunAt } from '../sun/position.js'
import { type PowerFixed, powerFixed } from './fixed.js'
import { type ArrayState, LIT_HIGH, LIT_WIDE } from './state.js'

const BLOCK_MS = 10 * MINUTE
/** Of a block's looks, so many must have known the panel, and known that the battery could take charge. */
const LOOKS_LEAST = 20
const TAKES_SHARE = 0.8
/** Sun below this height is a matter of the horizon. */
const LOW_SUN_DEG = 6
/** A direction from which this share of a clear sky came, or a free panel's voltage, is one that the sun reaches. */
const LIT_RATIO = 0.15
/** So little of a clear sky is next to nothing. */
const DARK_RATIO = 0.1
/** Thick cloud lets through a fifth of the light, all of it diffuse [common practice: a tenth to a quarter]. */
const THICK_CLOUD = 0.2
/** From here the panel's voltage is that of one that works. */
const WORKS_RATIO = 0.25
const RATIOS_KEPT = 45
const LAST_BLOCKS = 3
const LATE_AFTER_NOON_MS = 2 * HOUR
/** A full battery takes little for hours after. */
const FULL_HOLDS_MS = 8 * HOUR
/** Protections refuse charge somewhere between 0 and 5 °C [common practice]. */
const LOCKED_BELOW_C = 5
/** A panel that nothing is taken from stands so much above its working voltage (open over working: about 1.2). */
const OPEN_SHARE = 1.06
/** A panel that is held back begins to leave its working voltage here. */
const HELD_SHARE = 1.03
/** A battery that gets less than this share of its capacity an hour, or loses charge, is not being charged. */
const NOT_CHARGED_SHARE = 0.004
const DAY_LEAST_H = 1
/** Silicon gives so much less for each °C above 25 [common practice: 0.3–0.5 %]. */
const PER_DEGREE = 0.004
const LIGHT_WIND_MS = 1
/** Where no air temperature is measured. */
const USUAL_AIR_C = 15

/** Takes one look; closes the block when it is over. */
export function lookAtArray(
  plan: SitePlan,
  state: EngineState,
  at: Ms,
  volts: number | null,
  batteryA: number | null,
  fixed: PowerFixed,
): void {
  const place = fixed.array
  if (place === null) return
  const { array } = state.power
  const from = at - (at % BLOCK_MS)
  if (from !== array.blockAt) {
    if (array.n > 0) closeBlock(plan, state, array.blockAt, place, fixed)
    emptyBlock(array, from)
  }
  const { panelA, panelV, panelT } = state
  if (panelA === null || volts === null || at - panelT > 3 * MINUTE || (fixed.hasPanelV && panelV === null)) return
  if (fixed.hasCurrent && batteryA === null) return
  array.n += 1
  array.w += Math.max(0, panelA) * (fixed.hasPanelV ? (panelV ?? 0) : volts)
  if (panelV !== null) array.panelV += panelV
  if (batteryA !== null) {
    array.batteryA += batteryA
    array.batteryN += 1
  }
  const locked = isTooCold(state, at, fixed)
  if (locked) array.locked += 1
  else if (canTake(state, at, volts, batteryA, fixed)) array.takes += 1
}

function emptyBlock(array: ArrayState, from: Ms): void {
  array.blockAt = from
  array.n = 0
  array.w = 0
  array.panelV = 0
  array.batteryA = 0
  array.batteryN = 0
  array.takes = 0
  array.locked = 0
}

/** So cold that the battery's protection may refuse charge, with the array showing light that nobody takes. */
function isTooCold(state: EngineState, at: Ms, fixed: PowerFixed): boolean {
  const { battery, power, panelV } = state
  if (!fixed.lithium) return false
  const celsius =
    battery.temperatureC !== null && at - battery.temperatureT < HOUR ? battery.temperatureC : power.slowAirC
  if (celsius === null || celsius >= LOCKED_BELOW_C) return false
  if (!fixed.hasPanelV || power.array.workV === 0) return true
  return panelV !== null && panelV > OPEN_SHARE * power.array.workV
}

/** The battery takes all that comes: it is charged hard below absorption, or stands at no voltage of a full one. */
function canTake(state: EngineState, at: Ms, volts: number, batteryA: number | null, fixed: PowerFixed): boolean {
  const { full, array } = state.power
  if (volts >= fixed.absorbV) return false
  const atWork = state.panelV !== null && array.workV > 0 && state.panelV < HELD_SHARE * array.workV
  const charged = batteryA !== null && fixed.taperA !== null && batteryA > 2 * fixed.taperA
  if (fixed.hasPanelV ? atWork : charged) return true
  if (volts >= fixed.floatV) return false
  return full.lastAt === null || at - full.lastAt > FULL_HOLDS_MS
}

function closeBlock(plan: SitePlan, state: EngineState, from: Ms, place: ArrayPlace, fixed: PowerFixed): void {
  const { array } = state.power
  const middle = from + BLOCK_MS / 2
  const { start } = plan.calendar.dayOf(middle)
  if (start !== array.dayStart) beginDay(array, start, place)
  if (array.n < LOOKS_LEAST) return
  const sun = sunAt(place.place, middle)
  if (sun.elevationDeg < LOW_SUN_DEG) return
  const clear = expectedShare(state, middle, place)
  if (clear <= 0) return
  const got = array.w / array.n / place.ratedW
  const panelV = fixed.hasPanelV ? array.panelV / array.n : null
  const free = array.takes >= TAKES_SHARE * array.n
  learnLight(array, sun, clear, got, panelV, free)
  noteLockOut(state, from, array.locked >= TAKES_SHARE * array.n)
  if (!free || !isLit(array, sun)) return
  const cloud = (THICK_CLOUD * isotropicSky(haurwitz(sun.elevationDeg), place.plane.tiltDeg) * BLOCK_MS) / HOUR / 1000
  if (count(state, from, clear, got, panelV, fixed)) array.cloudH += cloud
}

/**
 * What the array would give of its rating under a clear sky: light on its plane, more where the air is thin (the height's
 * part of FAO-56, eq. 37, for Haurwitz knows none), less where the panel is hot (Faiman, in light wind).
 */
function expectedShare(state: EngineState, middle: Ms, { place, plane }: ArrayPlace): number {
  const light = clearOnPlane(courseOfDay(place, middle), plane, middle)
  const height = clearSkyRadiation(1, place.elevationM) / clearSkyRadiation(1, 0)
  const airC = middle - state.airT < 2 * HOUR && state.airC !== null ? state.airC : USUAL_AIR_C
  const cellC = moduleTemperatureC(1000 * light, airC, LIGHT_WIND_MS)
  return light * height * (1 - PER_DEGREE * (cellC - 25))
}

function beginDay(array: ArrayState, start: Ms, place: ArrayPlace): void {
  // A day on which next to nothing came is a fault or a storm; only days that brought something say what is usual.
  if (array.clearH >= DAY_LEAST_H && array.darkSince === null) {
    array.ratios.push(Math.round((1000 * array.gotH) / array.clearH) / 1000)
    if (array.ratios.length > RATIOS_KEPT) array.ratios.shift()
    array.lowest = Math.min(...array.ratios)
    array.usual = median(array.ratios)
  }
  array.dayStart = start
  array.noon = sunDay(place.place, start).noon
  array.blocks = 0
  array.clearH = 0
  array.gotH = 0
  array.cloudH = 0
  array.darkH = 0
  array.darkSince = null
  array.voltsSum = 0
  array.ampsSum = 0
  array.ampsN = 0
  array.last = []
}

/** From which directions the sun reaches the array, and at which voltage it works: both from hours that were well. */
function learnLight(
  array: ArrayState,
  sun: SunPosition,
  clear: number,
  got: number,
  panelV: number | null,
  free: boolean,
): void {
  const ratio = got / clear
  if (free && ratio > WORKS_RATIO && got > 0.05 && panelV !== null) {
    array.workV = array.workV === 0 ? panelV : array.workV + 0.05 * (panelV - array.workV)
  }
  const open = !free && array.workV > 0 && panelV !== null && panelV > OPEN_SHARE * array.workV
  if (ratio >= LIT_RATIO || open) array.lit[litIndex(sun, 0)] = 1
}

function litIndex(sun: SunPosition, turn: number): number {
  const wide = (Math.floor(sun.azimuthDeg / (360 / LIT_WIDE)) + turn + LIT_WIDE) % LIT_WIDE
  const high = Math.max(0, Math.min(LIT_HIGH - 1, Math.floor(sun.elevationDeg / 10)))
  return high * LIT_WIDE + wide
}

/** Sun from there, or from beside there, has been seen on the array. */
function isLit(array: ArrayState, sun: SunPosition): boolean {
  return [0, -1, 1].some((turn) => array.lit[litIndex(sun, turn)] === 1)
}

function noteLockOut(state: EngineState, from: Ms, locked: boolean): void {
  if (!locked) state.power.lockedSince = null
  else state.power.lockedSince ??= from
}

function count(
  state: EngineState,
  from: Ms,
  clear: number,
  got: number,
  panelV: number | null,
  fixed: PowerFixed,
): boolean {
  const { array } = state.power
  const batteryA = array.batteryN > 0 ? array.batteryA / array.batteryN : null
  const hours = BLOCK_MS / HOUR
  // A battery that is being charged though the panel shows nothing has a bad sensor beside it, not a dark array.
  const capacityAh = (fixed.capacityAs ?? 100 * 3600) / 3600
  if (got < DARK_RATIO * clear && batteryA !== null && batteryA > NOT_CHARGED_SHARE * capacityAh) return false
  array.blocks += 1
  array.clearH += clear * hours
  array.gotH += got * hours
  array.last.push([Math.round(clear * 1000) / 1000, Math.round(got * 1000) / 1000])
  if (array.last.length > LAST_BLOCKS) array.last.shift()
  if (got >= DARK_RATIO * clear) return true
  array.darkSince ??= from
  array.darkH += clear * hours
  array.voltsSum += (panelV ?? 0) * clear * hours
  if (batteryA !== null) {
    array.ampsSum += batteryA
    array.ampsN += 1
  }
  return true
}

/** What today's hours say; null where there is no array in the configuration, or nothing measures the panel. */
export function arrayFacts(plan: SitePlan, state: EngineState, at: Ms): ArrayFacts | null {
  const fixed = powerFixed(plan)
  if (fixed === null || fixed.array === null) return null
  const { array } = state.power
  const recent = sums(array.last)
  return {
    hours: (array.blocks * BLOCK_MS) / HOUR,
    clearH: array.clearH,
    ratio: array.clearH > 0 ? array.gotH / array.clearH : null,
    cloudRatio: array.clearH > 0 ? array.cloudH / array.clearH : null,
    recentRatio: array.last.length < LAST_BLOCKS ? null : recent.got / recent.clear,
    lowestRatio: array.lowest,
    usualRatio: array.usual,
    days: array.ratios.length,
    late: array.noon > 0 && at >= array.noon + LATE_AFTER_NOON_MS && at < array.noon + 12 * HOUR,
    since: array.darkSince,
    voltsShare: voltsShare(array, fixed),
    batteryA: array.ampsN > 0 ? array.ampsSum / array.ampsN : null,
    coldestC: coldest(state, at),
  }
}

function voltsShare(array: ArrayState, fixed: PowerFixed): number | null {
  if (!fixed.hasPanelV || array.workV === 0 || array.darkH <= 0) return null
  return array.voltsSum / array.darkH / array.workV
}

function sums(blocks: readonly (readonly [number, number])[]): { clear: number; got: number } {
  let clear = 0
  let got = 0
  for (const [c, g] of blocks) {
    clear += c
    got += g
  }
  return { clear, got }
}

function coldest({ days }: EngineState, at: Ms): number | null {
  let least: number | null = null
  for (const day of days) {
    if (day.end > at - 48 * HOUR && day.airMin !== null && (least === null || day.airMin < least)) least = day.airMin
  }
  return least
}
