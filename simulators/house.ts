/**
 * The water of the house after the tank: a pressure pump with its switch, and an accumulator in which air carries the
 * pressure while nobody draws. What the house draws leaves the tank as it is drawn: that the pump takes it in spoonfuls
 * of some 7 l is not followed there. Its energy is part of the household's loads.
 */
import type { Effects } from './effects.js'
import type { SitePlan } from './plan.js'
import { Random } from './random.js'

export type HousePlan = {
  /** Pressures above the air's at which the switch starts and stops the pump. */
  readonly cutInPa: number
  readonly cutOutPa: number
  /** Of the empty vessel, with its cold air charge. */
  readonly vesselL: number
  readonly chargePa: number
  readonly airPa: number
  /** Flow against no pressure, and the pressure that the pump can just hold. */
  readonly flowLMin: number
  readonly shutOffPa: number
  readonly idleA: number
  readonly ampsPerPa: number
}

/** Air and 14 kPa below the cut-in pressure (common practice); 138 and 276 kPa are the trade's 20 and 40 psi. */
export const HOUSE: HousePlan = {
  cutInPa: 138_000,
  cutOutPa: 276_000,
  vesselL: 20,
  chargePa: 124_000,
  airPa: 81_000,
  flowLMin: 18,
  shutOffPa: 550_000,
  idleA: 1.6,
  ampsPerPa: 3 / 207_000,
}

/** What is left in the pipes while more is drawn than comes. */
const EMPTY_PA = 15_000
/** Share of its idle current that a pump full of air draws. */
const DRY_SHARE = 0.75
/** A pump cannot take the last of a tank. */
const SUCTION_M = 0.03
const OFTEN = 10

export class House {
  /** The pump is under power. */
  on = false
  currentA = 0
  pressurePa: number
  onSince = 0
  readonly #starts: number[] = []
  /** What a leak or a burst after the pump takes out of the tank this second, l/min. */
  lostLMin = 0
  readonly #plan: HousePlan
  #storedL: number

  constructor(plan: SitePlan, seed: number) {
    this.#plan = plan.house ?? HOUSE
    this.pressurePa = new Random(seed, 'house').between(this.#plan.cutInPa + 10_000, this.#plan.cutOutPa - 10_000)
    this.#storedL = this.#plan.vesselL - this.#airPaL(1) / (this.pressurePa + this.#plan.airPa)
  }

  /** One second, in tenths where the vessel holds so little that its pump starts and stops within seconds. */
  second(at: number, wantedLMin: number, fedV: number, nominalV: number, levelM: number, fx: Effects): void {
    const parts = fx.houseAirShare < 0.6 ? 10 : 1
    for (let part = 0; part < parts; part++) this.#live(at, 1 / parts, wantedLMin, fedV, nominalV, levelM, fx)
  }

  /** What people want, whether the battery feeds the pump, and how much water the tank has. */
  #live(
    at: number,
    seconds: number,
    wantedLMin: number,
    fedV: number,
    nominalV: number,
    levelM: number,
    fx: Effects,
  ): void {
    const plan = this.#plan
    if (fedV <= 0) this.on = false
    else if (!this.on && (this.pressurePa <= plan.cutInPa || fx.houseSwitchStuck)) {
      this.on = true
      this.onSince = at
      this.#starts.push(at)
      if (this.#starts.length > OFTEN) this.#starts.shift()
    } else if (this.on && this.pressurePa >= plan.cutOutPa && !fx.houseSwitchStuck) this.on = false
    const dry = fx.houseDry || levelM < SUCTION_M
    const share = this.on && !dry ? Math.max(0, 1 - this.pressurePa / plan.shutOffPa) : 0
    const comesLMin = plan.flowLMin * fx.houseYieldShare * share
    const backLMin = this.on ? 0 : (fx.houseBackLH / 60) * this.#push()
    const leakLMin = (fx.houseLeakLH / 60) * this.#push()
    const lossLMin = fx.houseBurstLMin + leakLMin
    const outLMin = wantedLMin + lossLMin + backLMin
    const before = this.#storedL
    const after = before + ((comesLMin - outLMin) * seconds) / 60
    this.#storedL = Math.max(0, Math.min(0.98 * plan.vesselL, after))
    this.lostLMin =
      after < 0 ? Math.max(0, Math.min(lossLMin, (before * 60) / seconds + comesLMin - wantedLMin)) : lossLMin
    this.pressurePa = this.#pressure(comesLMin, fx)
    const load = dry ? DRY_SHARE * plan.idleA : plan.idleA + plan.ampsPerPa * this.pressurePa
    this.currentA = this.on ? (load * fedV) / nominalV : 0
  }

  /** Twenty starts an hour and more, seen over half an hour. */
  often(at: number): boolean {
    const [first] = this.#starts
    return this.#starts.length === OFTEN && first !== undefined && at - first <= 1_800_000
  }

  /** Flow through a hole goes with the root of the pressure; 1 half-way between the marks. */
  #push(): number {
    const middlePa = (this.#plan.cutInPa + this.#plan.cutOutPa) / 2
    return Math.sqrt(Math.max(0, this.pressurePa) / middlePa)
  }

  #pressure(comesLMin: number, fx: Effects): number {
    const { vesselL, airPa, cutOutPa, shutOffPa } = this.#plan
    if (this.#storedL <= 0) return comesLMin > 0 ? EMPTY_PA : 0
    const gauge = this.#airPaL(fx.houseAirShare) / (vesselL - this.#storedL) - airPa
    // A relief valve opens above what the pump can hold, and far above the cut-out.
    return Math.max(0, Math.min(gauge, Math.max(shutOffPa, 1.5 * cutOutPa)))
  }

  /** Absolute pressure times volume of the air in the vessel (Boyle), Pa·l. */
  #airPaL(share: number): number {
    return (this.#plan.chargePa + this.#plan.airPa) * this.#plan.vesselL * share
  }
}
