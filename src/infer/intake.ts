/** One reading taken into the engine's memory: who was heard, whether it is believed, and where it belongs. */
import type { RoleId } from '../model/roles.js'
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import { takeVoltage } from './battery.js'
import { takeLineTemperature } from './cold/lines.js'
import { takeCold } from './cold/look.js'
import { contradictingSince, noteContradiction } from './contradiction.js'
import { noteBoard } from './boards/gaps.js'
import { isOdd, noteVolts } from './boards/odd.js'
import { dayAt } from './days.js'
import { CONTACT_NEAR_MS } from './ending.js'
import { takeBatteryCurrent, takePanel, takePumpPower } from './energy/balance.js'
import { noteSwitching } from './episode/chatter.js'
import { takeLevelBin } from './loss/bins.js'
import { takeHouseCurrent, takeHousePressure } from './house/take.js'
import type { SitePlan } from './plan.js'
import { takeBatteryAmps } from './power/charge.js'
import { takeCurrent, wouldStart } from './pump.js'
import { remember } from './ring.js'
import { believe } from './screen.js'
import type { EngineState, Run } from './state.js'
import { noteReading } from './suspects.js'
import { takeContact, takeLevel } from './water.js'
import { takeWellLevel } from './well/well.js'

const OUTAGE_LEAST_MS = 10 * MINUTE

/** What the intake must be able to ask for: an ended run to be closed before the next begins, a refusal to be said. */
export type IntakeCalls = {
  close(run: Run): void
  tooFast(signal: number, t: Ms, value: number): void
}

export function take(
  plan: SitePlan,
  state: EngineState,
  index: number,
  t: Ms,
  value: number,
  calls: IntakeCalls,
): void {
  const signal = plan.signals[index]
  const fail = state.fails[index]
  const screen = state.screens[index]
  if (signal === undefined || fail === undefined || screen === undefined) return
  const spoke = state.boards[signal.board] ?? null
  const trouble = state.boardTroubles.boards[signal.board]
  if (spoke !== null && t > spoke && trouble !== undefined) noteBoard(trouble, spoke, t)
  state.boards[signal.board] = t
  if (state.firstHeard === null) state.firstHeard = t
  if (state.lastHeard !== null && t - state.lastHeard > OUTAGE_LEAST_MS) noteOutage(state, t)
  state.lastHeard = t
  const bad = Number.isNaN(value) || isOdd(plan, state, index, value)
  noteReading(fail, t, bad)
  if (bad) return
  if (!believe(screen, signal.spec, t, value)) {
    calls.tooFast(index, t, value)
    return
  }
  state.heard[index] = t
  dispatch(plan, state, index, signal.role, t, value, calls)
}

function noteOutage(state: EngineState, t: Ms): void {
  state.outages.push({ end: t, ms: t - (state.lastHeard ?? t) })
  if (state.outages.length > 64) state.outages.shift()
}

function dispatch(
  plan: SitePlan,
  state: EngineState,
  index: number,
  role: RoleId,
  t: Ms,
  value: number,
  calls: IntakeCalls,
): void {
  const first = plan.index[role] === index
  if (index === plan.supply) takeVoltage(state, t, value)
  switch (role) {
    case 'pump-current': {
      if (!first) return
      const { run } = state.pump
      if (run !== null && run.end !== null && wouldStart(plan, state, value)) calls.close(run)
      takeCurrent(plan, state, t, value)
      noteSwitching(state, t)
      takePumpPower(state, t, value)
      return
    }
    case 'tank-level':
      if (first) {
        takeLevel(plan, state, t, value)
        takeLevelBin(state, t, value)
      }
      return
    case 'tank-probe-low':
    case 'tank-probe-high':
    case 'tank-probe-full':
      if (first) takeProbe(plan, state, role, t, value !== 0)
      return
    case 'battery-voltage':
      if (first) {
        noteVolts(state, t, value)
        dayVoltage(plan, state, t, value)
      }
      if (first && index !== plan.supply) remember(state.power.volts, t, value)
      return
    case 'battery-temperature':
      state.battery.temperatureC = value
      state.battery.temperatureT = t
      return
    case 'air-temperature':
      if (first) takeAir(plan, state, t, value)
      return
    case 'panel-voltage':
      if (first) state.panelV = value
      return
    case 'panel-current':
      if (first) takeHarvest(plan, state, t, value)
      if (first) takePanel(plan, state, t, value)
      return
    case 'battery-current':
      if (first) takeBatteryCurrent(state, t, value)
      if (first) takeBatteryAmps(plan, state, t, value)
      return
    case 'pump-volume':
      if (first) takeMeter(state, t, value)
      return
    case 'pump-flow':
      if (first) takeFlow(state, t, value)
      return
    case 'house-pump-current':
      if (first) takeHouseCurrent(plan, state.house, t, value)
      return
    case 'house-pressure':
      if (first) takeHousePressure(plan, state.house, t, value)
      return
    case 'well-level':
      if (first) takeWellLevel(state, t, value)
      return
    case 'occupied':
      state.occupied = value !== 0
      return
    default:
      if (first) takeCold(state.cold, role, t, value)
      takeLine(plan, state, index, t, value)
  }
}

function takeProbe(
  plan: SitePlan,
  state: EngineState,
  role: 'tank-probe-low' | 'tank-probe-high' | 'tank-probe-full',
  t: Ms,
  wet: boolean,
): void {
  const { water } = state
  const contact = role === 'tank-probe-low' ? water.low : role === 'tank-probe-high' ? water.high : water.full
  const was = contact.seen ? contact.wet : null
  takeContact(contact, t, wet)
  noteContradiction(water, t)
  const { run } = state.pump
  if (role === 'tank-probe-high' && wet && run !== null && (run.end === null || t <= run.end + CONTACT_NEAR_MS))
    run.highWetAt = t
  if (was === null || was === wet) return
  if (role === 'tank-probe-high' && wet) noteUnseenFill(state, t)
  if (role === 'tank-probe-high' && wet && plan.highL !== null) mark(water, t, plan.highL)
  if (role === 'tank-probe-low' && plan.lowL !== null) mark(water, t, plan.lowL)
}

/** The water has come from the low mark to the high one, and no current was seen: the current sensor is doubted. */
function noteUnseenFill(state: EngineState, t: Ms): void {
  const { pump, water } = state
  if (contradictingSince(water, t) !== null) return
  const { lastDry } = water.low
  const ran = pump.run !== null || (pump.lastEndAt !== null && pump.lastEndAt >= lastDry)
  if (!ran && water.low.seen && lastDry > 0 && t - lastDry < 4 * HOUR && pump.seen) water.unseenFillAt = lastDry
}

function mark(water: EngineState['water'], t: Ms, litres: number): void {
  water.markT = t
  water.markL = litres
}

function dayVoltage(plan: SitePlan, state: EngineState, t: Ms, volts: number): void {
  const day = dayAt(plan, state, t)
  if (day.batteryMin === null || volts < day.batteryMin) day.batteryMin = volts
  if (day.batteryMax === null || volts > day.batteryMax) day.batteryMax = volts
}

function takeAir(plan: SitePlan, state: EngineState, t: Ms, celsius: number): void {
  state.airC = celsius
  state.airT = t
  const day = dayAt(plan, state, t)
  if (day.airMin === null || celsius < day.airMin) day.airMin = celsius
  if (day.airMax === null || celsius > day.airMax) day.airMax = celsius
}

const HARVEST_GAP_MS = 5 * MINUTE

function takeHarvest(plan: SitePlan, state: EngineState, t: Ms, amperes: number): void {
  const before = state.panelA
  const dt = t - state.panelT
  state.panelA = amperes
  state.panelT = t
  if (before === null || state.panelV === null || dt > HARVEST_GAP_MS) return
  const day = dayAt(plan, state, t)
  day.harvestWs += (((before + amperes) / 2) * state.panelV * dt) / 1000
  day.harvestS += dt / 1000
}

/** A counter that falls by less than this share has trembled in its last digit; it has not begun anew. */
const METER_TREMBLE = 0.01

/** A counter may wrap or restart from 0: what it shows after a fall has been counted since. */
function takeMeter(state: EngineState, t: Ms, litres: number): void {
  const { meterRaw } = state
  if (meterRaw !== null && litres < meterRaw && litres > (1 - METER_TREMBLE) * meterRaw) {
    state.meterT = t
    return
  }
  if (meterRaw !== null) state.meterL += litres >= meterRaw ? litres - meterRaw : litres
  state.meterRaw = litres
  state.meterT = t
}

function takeFlow(state: EngineState, t: Ms, flowLs: number): void {
  const { run } = state.pump
  if (run !== null && run.end === null && run.flowL !== null && state.flowLs !== null) {
    const dt = t - state.flowT
    run.flowL = dt > 2 * MINUTE ? null : run.flowL + (((flowLs + state.flowLs) / 2) * dt) / 1000
  }
  state.flowLs = flowLs
  state.flowT = t
}

function takeLine(plan: SitePlan, state: EngineState, index: number, t: Ms, celsius: number): void {
  for (let i = 0; i < plan.lineSignals.length; i += 1) {
    const line = state.lines[i]
    if (plan.lineSignals[i] === index && line !== undefined) takeLineTemperature(line, t, celsius)
  }
}
