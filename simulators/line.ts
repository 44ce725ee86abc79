/** The watched water line: follows the air with its own lag, is warmed by water that flows, holds at 0 °C while it freezes. */
import type { SitePlan } from './plan.js'

/** °C of cooling that freezing the standing water takes up, for a line half of whose heat capacity is water. */
const LATENT_C = 40
/** Flowing water takes the line to its own temperature within about this time. */
const FLOW_H = 0.15

export class Line {
  waterC: number
  /** 0: liquid, 1: frozen through. */
  ice = 0
  /** At the thermometer on the wall of the pipe. */
  wallC: number
  readonly #plan: SitePlan['line']

  constructor(plan: SitePlan, airC: number) {
    this.#plan = plan.line
    this.waterC = Math.max(1, airC)
    this.wallC = this.waterC
  }

  advance(seconds: number, airC: number, flowing: boolean): void {
    const hours = seconds / 3_600
    let change = ((airC - this.waterC) * hours) / this.#plan.followsH
    if (flowing && this.ice < 1) change += ((this.#plan.waterC - this.waterC) * hours) / FLOW_H
    const next = this.waterC + change
    if (this.ice > 0 && this.ice < 1) this.#freeze(change)
    else if (this.ice === 0 && next < 0) this.#freeze(next)
    else if (this.ice === 1 && next > 0) this.#freeze(next)
    else this.waterC = next
    this.wallC = 0.9 * this.waterC + 0.1 * airC
  }

  /** Heat taken out at 0 °C makes ice, heat put in melts it. */
  #freeze(changeC: number): void {
    const ice = this.ice - changeC / LATENT_C
    this.ice = Math.max(0, Math.min(1, ice))
    this.waterC = ice > 1 ? (1 - ice) * LATENT_C : ice < 0 ? -ice * LATENT_C : 0
  }
}
