/**
 * A battery and what stands around it: resting voltage by charge and chemistry, a resistance that answers at once and
 * one that answers within minutes, a charge regulator (bulk, absorption, float), and the cut-offs.
 */
import type { Chemistry } from '../src/model/settings.js'
import type { Effects } from './effects.js'
import type { SitePlan } from './plan.js'

/** [state of charge, V of a 12 V battery at rest]. Common practice figures; lithium iron phosphate is four cells. */
const REST_V: Record<'lithium' | 'lead', readonly (readonly [number, number])[]> = {
  lithium: [
    [0, 10.0],
    [0.02, 11.6],
    [0.05, 12.3],
    [0.1, 12.75],
    [0.2, 12.9],
    [0.3, 13.05],
    [0.4, 13.1],
    [0.6, 13.15],
    [0.7, 13.22],
    [0.9, 13.3],
    [0.96, 13.36],
    [0.985, 13.55],
    [1, 14.2],
  ],
  lead: [
    [0, 10.2],
    [0.04, 11.2],
    [0.1, 11.7],
    [0.25, 12.0],
    [0.5, 12.28],
    [0.75, 12.55],
    [1, 12.85],
  ],
}
const STEPS = 400
/** Minutes in which the slow part of the voltage drop builds up and dies away. */
const SLOW_S = 300
/** Share of the charge that is kept. */
const KEPT = { lithium: 0.99, lead: 0.94 } as const
const CHARGER_EFFICIENCY = 0.96

export class Battery {
  /** At the terminals. */
  voltageV: number
  /** Into the battery positive. */
  currentA = 0
  /** State of charge, 0…1. */
  charge: number
  storedAs: number
  temperatureC = 15
  panelA = 0
  panelV = 0
  /** Pump and house are cut off; everything is dark. */
  cutOff = false
  dark = false
  /** Ampere-seconds taken in (before losses), and given out, for the balance. */
  inAs = 0
  outAs = 0
  /** Charge that went with cells that died, or that a full or empty battery could not take or give, As. */
  lostAs = 0
  resistanceOhm: number
  readonly #plan: SitePlan['battery']
  readonly #array: SitePlan['array']
  readonly #kind: 'lithium' | 'lead'
  readonly #rest: Float64Array
  #slowV = 0
  #capacityShare = 1
  #floating = false
  #lowS = 0
  #highS = 0

  constructor(plan: SitePlan, charge: number) {
    this.#plan = plan.battery
    this.#array = plan.array
    this.#kind = kindOf(plan.battery.chemistry)
    this.#rest = restTable(this.#kind, plan.battery.nominalV)
    this.charge = charge
    this.storedAs = charge * this.capacityAs
    this.voltageV = this.#restV(charge)
    this.resistanceOhm = plan.battery.ohmAt20C
  }

  get capacityAs(): number {
    return this.#plan.capacityAh * 3_600
  }

  /** What this battery keeps of each ampere-second put in. */
  get kept(): number {
    return KEPT[this.#kind]
  }

  /**
   * One second. `loadA`: what pump, house and boards draw; `panelW`: what the panel could give.
   * Sets voltage, current and what the panel really gave.
   */
  second(loadA: number, panelW: number, fx: Effects): void {
    const { ohmAt20C, nominalV } = this.#plan
    this.resistanceOhm = ohmAt20C * fx.resistanceShare * coldShare(this.#kind, this.temperatureC)
    const openV = this.#restV(this.charge) - fx.voltageLostShare * nominalV + this.#slowV
    const blocked = this.#kind === 'lithium' && this.temperatureC < 0 && !fx.chargesCold
    const couldA = (panelW * CHARGER_EFFICIENCY) / Math.max(1, this.voltageV)
    const offeredA = blocked ? Math.min(couldA, loadA) : couldA
    const heldV = this.#floating ? this.#plan.floatV : this.#plan.absorbV
    let chargerA = offeredA
    let voltageV = openV + (chargerA - loadA) * this.resistanceOhm
    if (voltageV > heldV) {
      chargerA = Math.max(0, Math.min(offeredA, loadA + (heldV - openV) / this.resistanceOhm))
      voltageV = openV + (chargerA - loadA) * this.resistanceOhm
    }
    this.currentA = chargerA - loadA
    this.voltageV = Math.max(0, voltageV)
    this.#settle(fx)
    this.#regulate(chargerA, offeredA)
    this.#seePanel(chargerA, couldA, panelW)
  }

  /** Voltage that the terminals would show in this very moment if a further load came on. */
  voltageUnderExtra(extraA: number): number {
    return Math.max(0, this.voltageV - extraA * this.resistanceOhm)
  }

  #settle(fx: Effects): void {
    const gassing = this.#kind === 'lead' && this.currentA > 0
    const fuller = 56 * Math.max(0, this.charge - 0.75) + 3_000 * Math.max(0, this.charge - 0.97)
    const slowOhm = this.resistanceOhm * (gassing ? 3 + fuller : 0.8)
    this.#slowV += (this.currentA * slowOhm - this.#slowV) / SLOW_S
    if (fx.capacityShare !== this.#capacityShare) {
      const left = fx.capacityShare / this.#capacityShare
      this.#capacityShare = fx.capacityShare
      this.lostAs += this.storedAs * (1 - left)
      this.storedAs *= left
    }
    if (this.currentA > 0) this.inAs += this.currentA
    else this.outAs -= this.currentA
    const capacityAs = this.capacityAs * fx.capacityShare
    const wantedAs = this.storedAs + (this.currentA > 0 ? this.currentA * this.kept : this.currentA)
    this.storedAs = Math.max(0, Math.min(capacityAs, wantedAs))
    this.lostAs += wantedAs - this.storedAs
    this.charge = this.storedAs / capacityAs
  }

  #regulate(chargerA: number, offeredA: number): void {
    const taperA = this.#plan.capacityAh * (this.#kind === 'lead' ? 0.015 : 0.03)
    if (!this.#floating && chargerA < offeredA - 0.01 && this.currentA < taperA) this.#floating = true
    else if (this.#floating && this.voltageV < this.#plan.floatV - 0.02 * this.#plan.nominalV) this.#floating = false
    this.#lowS = this.voltageV < this.#plan.cutOffV ? this.#lowS + 1 : 0
    this.#highS = this.voltageV > this.#plan.reconnectV ? this.#highS + 1 : 0
    if (this.#lowS >= 20) this.cutOff = true
    if (this.#highS >= 60) this.cutOff = false
    if (this.voltageV < this.#plan.darkV || this.charge <= 0.002) this.dark = true
    else if (this.dark && this.#highS >= 60) this.dark = false
  }

  #seePanel(chargerA: number, couldA: number, panelW: number): void {
    const used = couldA > 0 ? chargerA / couldA : 0
    if (panelW < 0.5) {
      this.panelV = Math.min(1, panelW)
      this.panelA = 0
      return
    }
    this.panelV = this.#array.openV - (this.#array.openV - this.#array.workingV) * used
    this.panelA = (panelW * used) / this.panelV
  }

  #restV(charge: number): number {
    const place = charge * STEPS
    const index = Math.min(STEPS - 1, Math.floor(place))
    const below = this.#rest[index] ?? 0
    return below + ((this.#rest[index + 1] ?? below) - below) * (place - index)
  }
}

function kindOf(chemistry: Chemistry): 'lithium' | 'lead' {
  return chemistry === 'lifepo4' ? 'lithium' : 'lead'
}

/** Cold makes the resistance grow: lithium doubles from 20 to −10 °C (from memory), lead a third of that. */
function coldShare(kind: 'lithium' | 'lead', temperatureC: number): number {
  return Math.exp((20 - temperatureC) * (kind === 'lithium' ? 0.0231 : 0.009))
}

function restTable(kind: 'lithium' | 'lead', nominalV: number): Float64Array {
  const points = REST_V[kind]
  const table = new Float64Array(STEPS + 1)
  for (let i = 0; i <= STEPS; i++) table[i] = (between(points, i / STEPS) * nominalV) / 12
  return table
}

function between(points: readonly (readonly [number, number])[], x: number): number {
  for (let i = 1; i < points.length; i++) {
    const [x0, y0] = points[i - 1] ?? [0, 0]
    const [x1, y1] = points[i] ?? [1, 0]
    if (x <= x1) return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0)
  }
  return points.at(-1)?.[1] ?? 0
}
