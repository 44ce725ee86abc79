/** The level control by the tank: starts at the low mark, stops at the high mark, rests a well that ran dry. */
import type { Ms } from '../src/model/time.js'
import type { Effects } from './effects.js'
import type { SitePlan } from './plan.js'
import { Random } from './random.js'

/** Both marks must say so for this long, so that waves do not start a pump. */
const SURE_S = 5
/** The control looks for light current only after this much of a run. */
const START_WINDOW_S = 90
/** Height of the waves on a quiet tank, m. */
const WAVE_M = 0.0003

export class Control {
  calling = false
  calledSince: Ms = 0
  restingUntil: Ms = 0
  /** What the three probes touch, waves and faults included. */
  lowWet = true
  highWet = false
  fullWet = false
  /** Why the control let go this second. */
  stopped: 'full' | 'dry' | null = null
  pastHighS = 0
  readonly #plan: SitePlan
  readonly #random: Random
  #wave = 0
  #dryS = 0
  #wetS = 0
  #lightS = 0
  #flicker = false
  #flickerUntil: Ms = 0
  readonly #chatterRandom: Random
  #chatterOff = false
  #chatterUntil: Ms = 0

  constructor(plan: SitePlan, seed: number) {
    this.#plan = plan
    this.#random = new Random(seed, 'control')
    this.#chatterRandom = new Random(seed, 'chatter')
  }

  /** One second: the water as it stands, how long the pump has run and what it draws against its usual. */
  second(at: Ms, levelM: number, ranS: number, lightCurrent: boolean, fx: Effects): void {
    this.stopped = null
    this.#look(at, levelM, fx)
    const { lowMarkM, highMarkM } = this.#plan.tank
    const low = this.#plan.probes ? this.lowWet : levelM + this.#wave > lowMarkM
    const high = this.#plan.probes ? this.highWet : levelM + this.#wave > highMarkM
    this.#dryS = low || high ? 0 : this.#dryS + 1
    this.#wetS = high ? this.#wetS + 1 : 0
    this.pastHighS = levelM > highMarkM ? this.pastHighS + 1 : 0
    if (!this.calling && this.#dryS >= SURE_S) {
      this.calling = true
      this.calledSince = at
    }
    if (this.calling && this.#wetS >= SURE_S && (fx.stuckOnS === 0 || this.pastHighS > fx.stuckOnS)) {
      this.calling = false
      this.stopped = 'full'
    }
    this.#chatter(at, fx)
    this.#guard(at, ranS, lightCurrent, fx)
  }

  /** Whether the contactor is to be closed. */
  closed(at: Ms): boolean {
    return this.calling && at >= this.restingUntil && !this.#chatterOff
  }

  /** A float at the surface: the call comes and goes. */
  #chatter(at: Ms, fx: Effects): void {
    if (fx.chatterOnS === 0) {
      this.#chatterOff = false
      return
    }
    if (at < this.#chatterUntil) return
    this.#chatterOff = !this.#chatterOff
    const usualS = this.#chatterOff ? fx.chatterOffS : fx.chatterOnS
    this.#chatterUntil = at + Math.max(1, Math.round(usualS * this.#chatterRandom.between(0.5, 2))) * 1_000
  }

  #guard(at: Ms, ranS: number, lightCurrent: boolean, fx: Effects): void {
    // A gulp of water now and then does not reassure it.
    if (lightCurrent && ranS > START_WINDOW_S) this.#lightS++
    else this.#lightS = Math.max(0, this.#lightS - (ranS === 0 ? Number.POSITIVE_INFINITY : 2))
    const tripS = Number.isNaN(fx.dryTripS) ? this.#plan.pump.dryTripS : fx.dryTripS
    if (this.#lightS >= tripS && fx.stuckOnS === 0) {
      const restS = Number.isNaN(fx.restAfterDryS) ? this.#plan.well.restAfterDryS : fx.restAfterDryS
      this.restingUntil = at + restS * 1_000
      this.#lightS = 0
      this.stopped = 'dry'
    }
  }

  #look(at: Ms, levelM: number, fx: Effects): void {
    this.#wave += -0.5 * this.#wave + WAVE_M * fx.waveShare * 0.87 * this.#random.normal()
    const { lowMarkM, highMarkM, fullM } = this.#plan.tank
    const surfaceM = levelM + this.#wave
    this.lowWet = surfaceM > lowMarkM
    this.highWet = surfaceM > highMarkM
    this.fullWet = surfaceM > fullM - 0.002
    if (fx.lowProbe === 'dry') this.lowWet = false
    if (fx.lowProbe === 'flickers') {
      if (at >= this.#flickerUntil) {
        this.#flicker = !this.#flicker
        this.#flickerUntil = at + Math.round(this.#random.between(20, 600)) * 1_000
      }
      if (this.#flicker) this.lowWet = false
    }
    if (fx.highProbe === 'wet') this.highWet = true
  }
}
