/** Battery health, charge and harvest at one look: memory kept, facts filled. */
import type { Facts } from '../../model/facts.js'
import { HOUR, MINUTE, type Ms } from '../../model/time.js'
import { fallOf } from '../battery.js'
import type { SitePlan } from '../plan.js'
import { between, type Ring } from '../ring.js'
import type { EngineState } from '../state.js'
import { median } from '../stats.js'
import { sunAt } from '../sun/position.js'
import { placeOf } from '../sun/place.js'
import { arrayFacts, lookAtArray } from './array.js'
import { chargeFacts, cutOffFacts, loadOf, lookAtRest } from './charge.js'
import { type PowerFixed, powerFixed } from './fixed.js'
import { daysNotFull, lookAtFull } from './full.js'
import { followSlowAir, lookAtStart } from './sag.js'
import { createSag } from './state.js'

const LOOK_LONGEST_S = 120
/** The sun's height is worked out anew no more often than this. */
const SUN_EVERY_MS = 5 * MINUTE
/** Below this the sun gives nothing worth the name. */
const SUN_UP_DEG = 2
/** A small current, as a share of the capacity in an hour, is none that harms [common practice: a fiftieth]. */
const SMALL_SHARE = 0.02
/** What boards and house take may be this share; only beyond it does panel current show that the battery is charged. */
const LOAD_SHARE = 0.06
const TEMPERATURE_FRESH_MS = 15 * MINUTE
/** Charge is refused below 0 °C; a thermometer is good for half a degree, so that only beyond it is it surely below. */
const PROTECTS_BELOW_C = -0.5

/** Brings this matter's memory and facts up to the look at `at`. Comes after pump and battery. */
export function lookAtPower(plan: SitePlan, state: EngineState, at: Ms, facts: Facts): void {
  const fixed = powerFixed(plan)
  if (fixed === null) return
  const { power } = state
  const dtS = power.lookAt === 0 ? 0 : Math.min(LOOK_LONGEST_S, Math.max(0, (at - power.lookAt) / 1000))
  power.lookAt = at
  followSlowAir(state, at, dtS)
  const batteryA = fixed.hasCurrent ? recentOf(power.amps, at) : null
  const volts = plan.battery === plan.supply ? facts.battery.recentV : recentOf(state.power.volts, at)
  const sunUp = sunIsUp(plan, at)
  lookAtStart(plan, state, at)
  lookAtFull(plan, state, at, dtS, volts, batteryA, sunUp, fixed)
  lookAtArray(plan, state, at, volts, batteryA, fixed)
  lookAtColdCharge(state, at, batteryA, volts, fixed, facts)
  if (volts !== null && !facts.battery.loaded && isAtRest(batteryA, sunUp, volts, fixed))
    lookAtRest(state, at, volts, fixed)
  fill(plan, state, at, batteryA, sunUp, facts)
}

function fill(
  plan: SitePlan,
  state: EngineState,
  at: Ms,
  batteryA: number | null,
  sunUp: boolean | null,
  facts: Facts,
): void {
  const { power } = state
  const out = facts.power
  out.batteryA = batteryA
  out.full = power.full.full
  out.lastFullAt = power.full.lastAt
  out.coldLockOutSince = power.lockedSince !== null && at - power.array.blockAt < HOUR ? power.lockedSince : null
  out.daysNotFull = daysNotFull(state, sunUp, at)
  out.sag = power.sag.facts
  out.charge = chargeFacts(plan, state, at)
  out.loadA = loadOf(state)
  out.array = arrayFacts(plan, state, at)
  const { hoursToCutOff } = facts.battery
  const falling =
    hoursToCutOff === null ? null : { hours: hoursToCutOff, relativeSd: fallOf(state, at)?.relativeSd ?? 0.5 }
  out.cutOff = cutOffFacts(plan, state, out.charge, falling)
}

/** Median of the last minute, or the newest where that is older; null: stale. */
function recentOf(ring: Ring, at: Ms): number | null {
  const newest = ring.t.at(-1)
  if (newest === undefined || at - newest > 3 * MINUTE) return null
  return median(between(ring, Math.min(newest, at - MINUTE), at, 12))
}

const sunKept = new WeakMap<SitePlan, { readonly slot: Ms; readonly up: boolean | null }>()

/** The same slot of time of one site always has the same answer: the last one is kept, for it is asked at every look. */
function sunIsUp(plan: SitePlan, at: Ms): boolean | null {
  const slot = at - (at % SUN_EVERY_MS)
  const kept = sunKept.get(plan)
  if (kept !== undefined && kept.slot === slot) return kept.up
  const place = placeOf(plan.site)
  const up = place === null ? null : sunAt(place, slot).elevationDeg > SUN_UP_DEG
  sunKept.set(plan, { slot, up })
  return up
}

function isAtRest(batteryA: number | null, sunUp: boolean | null, volts: number, fixed: PowerFixed): boolean {
  if (batteryA !== null) return Math.abs(batteryA) <= (SMALL_SHARE * (fixed.capacityAs ?? 360_000)) / 3600
  return sunUp === false && volts < fixed.floatV
}

function lookAtColdCharge(
  state: EngineState,
  at: Ms,
  batteryA: number | null,
  volts: number | null,
  fixed: PowerFixed,
  facts: Facts,
): void {
  const { power, battery } = state
  const out = facts.power
  const known = battery.temperatureC !== null && at - battery.temperatureT <= TEMPERATURE_FRESH_MS
  const cold = fixed.lithium && known && (battery.temperatureC ?? 0) < PROTECTS_BELOW_C
  const capacityAh = (fixed.capacityAs ?? 100 * 3600) / 3600
  const reckoned = batteryA === null ? fromPanel(state, at, volts, fixed) : null
  out.chargeMeasured = batteryA !== null
  out.chargeA = batteryA ?? reckoned
  const small = batteryA !== null ? SMALL_SHARE * capacityAh : LOAD_SHARE * capacityAh
  const charged = out.chargeA !== null && out.chargeA > small
  if (cold && charged) power.coldSince ??= at
  else power.coldSince = null
  out.coldChargeSince = power.coldSince
}

/** Where only the panel's current is measured: what it gives less what the pump takes, A at the battery. */
function fromPanel(state: EngineState, at: Ms, volts: number | null, fixed: PowerFixed): number | null {
  const { panelA, panelV, panelT, pump } = state
  if (panelA === null || volts === null || volts <= 0 || at - panelT > 3 * MINUTE) return null
  const fromPanelA = fixed.hasPanelV && panelV !== null ? (0.93 * panelA * panelV) / volts : panelA
  return fromPanelA - (pump.run !== null && pump.run.end === null ? pump.lastA : 0)
}

/** A journal entry: another battery, pump or joint makes the old starts no guide. */
export function rebasePower(state: EngineState): void {
  state.power.sag = createSag()
}
