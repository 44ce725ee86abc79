/** The bore and the pump in it: a store that the aquifer fills, a motor whose current follows the head it lifts. */
import type { Ms } from '../src/model/time.js'
import type { Effects } from './effects.js'
import { type SitePlan, usualCurrentA } from './plan.js'
import { Random } from './random.js'

/** Water over the intake at which a pump begins to gulp air. */
const GULPS_M = 0.02
export const INRUSH_MS = 200
/** The multiple of the running current in the first instant, as far as the winding allows. */
const INRUSH_SHARE = 4.5
const GUARD_TRIPS_S = 8
const FUSE_BLOWS_S = 4
const GUARD_WAITS_MS = 60_000
/** The weep hole empties its part of the pipe within about this time. */
const WEEPS_S = 900

export class Well {
  /** Water above the intake, m. */
  waterM: number
  wet = true
  readonly #plan: SitePlan['well']
  readonly #random: Random
  #regainM = 0.02

  constructor(plan: SitePlan, seed: number) {
    this.#plan = plan.well
    this.waterM = plan.well.staticM
    this.#random = new Random(seed, 'well')
  }

  /** One second with `flowLMin` drawn. */
  second(flowLMin: number, fx: Effects): void {
    const staticM = this.#plan.staticM * fx.wellStaticShare
    const drawdownM = staticM - this.waterM
    // Water that stands above a fallen water table runs out as quickly as it used to come in.
    const inflow = this.#plan.inflowLMinPerM * drawdownM * (drawdownM > 0 ? fx.wellInflowShare : 1)
    this.waterM = Math.max(0, this.waterM + (inflow - flowLMin) / 60 / this.#plan.storedLPerM)
    if (this.wet && this.waterM <= GULPS_M) {
      this.wet = false
      this.#regainM = this.#random.between(0.008, 0.03)
    } else if (!this.wet && this.waterM >= GULPS_M + this.#regainM) this.wet = true
  }

  /** Lift from the water as it stands to the tank. */
  get headM(): number {
    return this.#plan.liftM + this.#plan.staticM - this.waterM
  }
}

export class Pump {
  on = false
  onSince: Ms = 0
  currentA = 0
  inrushA = 0
  /** Drawn from the well, and arriving in the tank, l/min. */
  flowLMin = 0
  arrivesLMin = 0
  /** Water missing from the drop pipe, l. */
  drainedL: number
  locked = false
  light = false
  fuseBlown = false
  /** A protector that tripped tries again at this instant. */
  trippedUntil: Ms = 0
  tripped = false
  readonly usualA: number
  readonly #plan: SitePlan['pump']
  readonly #random: Random
  #hunt = 0
  #ripple = 0
  #lockedS = 0

  constructor(plan: SitePlan, seed: number) {
    this.#plan = plan.pump
    this.usualA = usualCurrentA(plan)
    this.drainedL = plan.pump.weepL
    this.#random = new Random(seed, 'pump')
  }

  /** One second, with the contactor closed or open. */
  second(at: Ms, closed: boolean, voltageV: number, well: Well, fx: Effects): void {
    this.tripped = false
    if (fx.lockedShare === 0) this.fuseBlown = false
    if (!closed || fx.circuitOpen || this.fuseBlown || at < this.trippedUntil) {
      this.#rest(fx)
      return
    }
    if (!this.on) this.#start(at, voltageV)
    const stalledA = voltageV / (this.#plan.cableOhm + this.#plan.windingOhm)
    this.locked = fx.lockedShare > 0
    this.light = !this.locked && fx.shutShare === 0 && (fx.primeLost || !well.wet)
    this.flowLMin = 0
    this.arrivesLMin = 0
    this.#ripple += -0.2 * this.#ripple + 0.006 * this.#random.normal()
    if (this.locked) this.#lock(at, Math.min(stalledA, fx.lockedShare * this.usualA), fx)
    else if (fx.shutShare > 0) this.currentA = Math.min(stalledA, fx.shutShare * this.usualA * (1 + this.#ripple))
    else if (this.light) this.#runDry(fx)
    else this.#lift(voltageV, well.headM, fx)
  }

  #start(at: Ms, voltageV: number): void {
    this.on = true
    this.onSince = at
    this.#lockedS = 0
    this.inrushA = Math.min(voltageV / (this.#plan.cableOhm + this.#plan.windingOhm), INRUSH_SHARE * this.usualA)
  }

  #rest(fx: Effects): void {
    this.on = false
    this.currentA = 0
    this.flowLMin = 0
    this.arrivesLMin = 0
    this.locked = false
    this.light = false
    const emptiesL = Math.min(0.9 * this.#plan.pipeL, this.#plan.weepL * fx.weepShare)
    this.drainedL += (emptiesL - this.drainedL) / WEEPS_S
  }

  #lock(at: Ms, currentA: number, fx: Effects): void {
    this.currentA = currentA * (1 + this.#ripple / 3)
    this.#lockedS++
    if (fx.lockedGuard === 'fuse' && this.#lockedS > FUSE_BLOWS_S) this.fuseBlown = true
    if (fx.lockedGuard === 'trips' && this.#lockedS > GUARD_TRIPS_S) this.trippedUntil = at + GUARD_WAITS_MS
    if (this.fuseBlown || at < this.trippedUntil) {
      this.#rest(fx)
      this.tripped = true
    }
  }

  /** Without water the current hunts about a small part of the usual. */
  #runDry(fx: Effects): void {
    this.#hunt += -0.12 * this.#hunt + 0.03 * this.#random.normal()
    this.currentA = this.usualA * fx.dryCurrentShare * (1 + this.#hunt)
  }

  #lift(voltageV: number, headM: number, fx: Effects): void {
    const { idleA, ampsPerM, cableOhm, windingOhm, flowLMinPerV, pipeL } = this.#plan
    const columnM = headM * fx.headShare * (1 - this.drainedL / pipeL)
    this.currentA = (idleA + ampsPerM * columnM) * fx.torqueShare * (1 + this.#ripple)
    const speedV = Math.max(0, voltageV - this.currentA * (cableOhm + windingOhm))
    this.flowLMin = flowLMinPerV * speedV * fx.yieldShare
    const pumpedL = this.flowLMin / 60
    const intoPipeL = Math.min(this.drainedL, pumpedL)
    this.drainedL -= intoPipeL
    this.arrivesLMin = (pumpedL - intoPipeL) * 60 * fx.arrivesShare
  }

  /** At the pump's own terminals, after the cable. */
  terminalV(batteryV: number): number {
    return batteryV - this.currentA * this.#plan.cableOhm
  }
}
