/** One place: weather, people, well, pump, tank, battery and line, moved on second by second. */
import { type Ms, SECOND } from '../src/model/time.js'
import { Battery } from './battery.js'
import { Control } from './control.js'
import type { Effects } from './effects.js'
import { endOf, type Fault, FaultList } from './fault.js'
import { House } from './house.js'
import { type Garden, type GuestSpell, Household, type Spell } from './household.js'
import { Line } from './line.js'
import { LocalTime } from './local-time.js'
import { changed, type PlanChange, type SiteId, type SitePlan, planOf } from './plan.js'
import { Random } from './random.js'
import { Weather } from './weather.js'
import { Pump, Well } from './well-and-pump.js'
import { Witness } from './witness.js'

export type WorldOptions = {
  readonly site: SiteId
  /** One seed drives everything. */
  readonly seed: number
  /** A whole second. */
  readonly startMs: Ms
  /** People who live there; absent: the site's own. */
  readonly people?: number
  readonly guests?: readonly GuestSpell[]
  readonly away?: readonly Spell[]
  readonly garden?: Garden
  readonly storms?: readonly Spell[]
  readonly faults?: readonly Fault[]
  /** Where this place differs from the built-in one. */
  readonly change?: PlanChange
}

/** The control sees light current below this share of the usual. */
const LIGHT_SHARE = 0.75
const MINUTE_S = 60
/** The battery stands in a closed box by the house. */
const BATTERY_BOX_WARMER_C = 9
const EFFECTS_EVERY_S = 10

/** Two sites of one seed have their own weather and people. */
export function siteSeed(options: Pick<WorldOptions, 'seed' | 'site'>): number {
  return new Random(options.seed, options.site).below(2 ** 31)
}

export class World {
  readonly plan: SitePlan
  readonly weather: Weather
  readonly household: Household
  readonly well: Well
  readonly pump: Pump
  readonly control: Control
  readonly battery: Battery
  readonly line: Line
  readonly house: House
  readonly faults: FaultList
  readonly effects: Effects
  readonly witness: Witness
  levelM: number
  /** Of the latest second, litres: people and hoses, leak, overflow, and their sum. */
  usedL = 0
  leakedL = 0
  overflowL = 0
  drawnL = 0
  /** Next second to be lived. */
  now: Ms
  readonly #options: WorldOptions
  readonly #edges: { readonly at: Ms; readonly what: 'fault-began' | 'fault-ended'; readonly kind: string }[]
  #second = 0
  #houseA = 0

  constructor(options: WorldOptions) {
    const { site, startMs, faults = [] } = options
    const seed = siteSeed(options)
    if (startMs % SECOND !== 0) throw new Error(`simulation: start ${startMs} ms is no whole second`)
    this.#options = options
    this.plan = changed(planOf(site), options.change ?? {})
    const local = new LocalTime(this.plan.timezone)
    const begin = new Random(seed, 'begin')
    this.weather = new Weather(this.plan, seed, startMs)
    const people = options.people ?? this.plan.people
    const watered = options.garden === undefined ? {} : { garden: options.garden }
    const spells = { people, guests: options.guests ?? [], away: options.away ?? [], ...watered }
    this.household = new Household(spells, seed, startMs, local)
    this.well = new Well(this.plan, seed)
    this.pump = new Pump(this.plan, seed)
    this.control = new Control(this.plan, seed)
    this.battery = new Battery(this.plan, begin.between(0.8, 0.95))
    this.battery.temperatureC = this.weather.airC + BATTERY_BOX_WARMER_C
    this.line = new Line(this.plan, this.weather.airC)
    this.house = new House(this.plan, seed)
    this.faults = new FaultList(faults, site)
    this.effects = this.faults.refresh(startMs)
    const { lowMarkM, highMarkM } = this.plan.tank
    this.levelM = begin.between(lowMarkM + 0.3 * (highMarkM - lowMarkM), highMarkM - 0.01)
    this.now = startMs
    this.witness = new Witness(this, startMs, local)
    this.#edges = faults
      .flatMap((fault) => [
        { at: fault.startMs, what: 'fault-began' as const, kind: `${fault.kind}:${fault.severity}` },
        { at: endOf(fault), what: 'fault-ended' as const, kind: `${fault.kind}:${fault.severity}` },
      ])
      .filter((edge) => Number.isFinite(edge.at))
      .sort((a, b) => b.at - a.at)
  }

  get volumeL(): number {
    return this.levelM * this.plan.tank.areaM2 * 1_000
  }

  /** Lives one second and returns its beginning. */
  second(): Ms {
    const at = this.now
    if (this.#second % EFFECTS_EVERY_S === 0) this.#refreshFaults(at)
    if (this.#second % MINUTE_S === 0) this.#minute(at)
    this.#second++
    this.now = at + SECOND
    this.household.second(at)
    this.#lift(at)
    if (this.plan.house !== null) this.#press(at)
    this.#moveWater()
    this.#moveCharge()
    this.witness.second(at)
    return at
  }

  #refreshFaults(at: Ms): void {
    this.faults.refresh(at)
    for (let edge = this.#edges.at(-1); edge !== undefined && edge.at <= at; edge = this.#edges.at(-1)) {
      this.witness.mark(at, edge.what, edge.kind)
      this.#edges.pop()
    }
  }

  #minute(at: Ms): void {
    const fx = this.effects
    const day = (at - this.#options.startMs) / 86_400_000
    const storm = (this.#options.storms ?? []).some((spell) => day >= spell.fromDay && day < spell.toDay)
    this.weather.advance(at, MINUTE_S, storm ? { airMassC: fx.airMassC, cloud: 1 } : fx)
    this.line.advance(MINUTE_S, this.weather.airC, this.pump.arrivesLMin > 0 || this.household.flowLMin > 0)
    this.battery.temperatureC += (this.weather.airC + BATTERY_BOX_WARMER_C - this.battery.temperatureC) / (12 * 60)
    this.household.minute(at)
    const { standingW, eveningW } = this.plan.loads
    this.#houseA = (standingW + fx.extraLoadW + eveningW * this.household.eveningShare(at)) / this.plan.battery.nominalV
  }

  #lift(at: Ms): void {
    const { pump, control, battery, well, effects } = this
    const ranS = pump.on ? (at - pump.onSince) / SECOND : 0
    control.second(at, this.levelM, ranS, pump.on && pump.currentA < LIGHT_SHARE * pump.usualA, effects)
    const fed = !battery.cutOff && !battery.dark
    pump.second(at, fed && control.closed(at), battery.voltageV, well, effects)
    well.second(pump.flowLMin, effects)
  }

  #press(at: Ms): void {
    const { battery, house, household, effects, plan, levelM } = this
    const fedV = battery.cutOff || battery.dark ? 0 : battery.voltageV
    house.second(at, household.flowLMin, fedV, plan.battery.nominalV, levelM, effects)
  }

  #moveWater(): void {
    const { areaM2, lowMarkM, fullM } = this.plan.tank
    const areaL = areaM2 * 1_000
    const wantedL = (this.household.flowLMin + this.effects.extraDrawLMin) / 60
    const holeL = this.effects.leakLH === 0 ? 0 : (this.effects.leakLH / 3_600) * Math.sqrt(this.levelM / lowMarkM)
    const leak = holeL + this.house.lostLMin / 60
    const before = this.levelM * areaL + this.pump.arrivesLMin / 60
    this.usedL = Math.min(wantedL, before)
    this.leakedL = Math.min(leak, before - this.usedL)
    const after = before - this.usedL - this.leakedL
    this.overflowL = Math.max(0, after - fullM * areaL)
    this.drawnL = this.usedL + this.leakedL + this.overflowL
    this.levelM = (after - this.overflowL) / areaL
  }

  #moveCharge(): void {
    const { battery, pump, weather, effects, plan } = this
    const nominal = plan.battery.nominalV / Math.max(1, battery.voltageV)
    // Below the cut-off only the boards are fed; in the dark nothing is.
    const house = battery.dark ? 0 : battery.cutOff ? 0.15 : 1
    const cellC = weather.airC + 28 * weather.panelKwM2
    const warm = 1 - 0.004 * (cellC - 25)
    const panelW = plan.array.ratedW * 0.92 * weather.panelKwM2 * warm * effects.arrayShare
    battery.second(pump.currentA + this.#houseA * nominal * house, panelW, effects)
  }
}
