/** Writes down the truth, second by second, while the world turns. */
import type { EndReason } from '../src/model/fill.js'
import { DAY, HOUR, type Ms } from '../src/model/time.js'
import type { LocalTime } from './local-time.js'
import { INRUSH_MS } from './well-and-pump.js'
import { MARK_AGAIN_MS, MARKS_MAX, type MarkId, type TrueDay, type TrueRun, type Truth } from './truth.js'
import type { World } from './world.js'

/** No water for this long, with the pump on, is "stopped"; a gulp shorter than the second figure does not end that. */
const STOPPED_S = 10
const GULP_S = 30
/** A pressure pump that has run for this long has no ordinary reason. */
const RUNS_ON_MS = 300_000
/** A run in which no water has come by then never got any. */
const PRIME_S = 90
/** A start that the battery carried: its current fell by this share of the pump's, so long after. */
const CARRIED_SHARE = 0.6
const CARRIED_AFTER_S = 20
/** Per 12 V: without a current sensor, above this the charger may be holding the voltage. */
const MAY_BE_HELD_V = 13.2
/** Resistance that has grown so far is a fault to be told. */
const SAGGING_SHARE = 1.6
/** Less than this is no water to speak of, l/min: an eighth of what such pumps give. */
const NOTHING_L_MIN = 0.5

export class Witness {
  readonly truth: Truth
  readonly #world: World
  readonly #local: LocalTime
  readonly #up: Record<string, boolean> = {}
  readonly #lastMark: Partial<Record<MarkId, Ms>> = {}
  #run: TrueRun | null = null
  #runS = 0
  #thirstS = 0
  #flowS = 0
  /** The battery's current and voltage while the pump last rested. */
  #restA = 0
  #restV = 0
  #sagging = 0
  #day: TrueDay
  #dayEnds: Ms

  constructor(world: World, startMs: Ms, local: LocalTime) {
    this.#world = world
    this.#local = local
    const { battery } = world
    this.truth = {
      site: world.plan.id,
      start: startMs,
      end: startMs,
      runs: [],
      days: [],
      marks: [],
      lastWord: {},
      balance: {
        tankStartL: world.volumeL,
        tankEndL: world.volumeL,
        pumpedL: 0,
        usedL: 0,
        leakedL: 0,
        overflowL: 0,
        storedStartAh: battery.storedAs / 3_600,
        storedEndAh: 0,
        inAh: 0,
        kept: battery.kept,
        outAh: 0,
        lostAh: 0,
      },
    }
    this.#day = this.#newDay(startMs)
    this.#dayEnds = this.#endOfDay(startMs)
  }

  mark(at: Ms, what: MarkId, detail = ''): void {
    if (this.truth.marks.length >= MARKS_MAX || at < (this.#lastMark[what] ?? 0) + MARK_AGAIN_MS) return
    if (detail === '') this.#lastMark[what] = at
    this.truth.marks.push({ at, what, detail })
  }

  /** After each second of the world, which covered [at, at + 1 s). */
  second(at: Ms): void {
    if (at >= this.#dayEnds) {
      this.#day = this.#newDay(at)
      this.#dayEnds = this.#endOfDay(at)
    }
    this.#followRun(at)
    this.#followDay(at)
    this.#followFlags(at)
  }

  /** Closes what is open and adds the balance up. */
  finish(end: Ms): void {
    if (this.#run !== null) this.#closeRun(end, 'unknown')
    const { balance } = this.truth
    const { battery } = this.#world
    this.truth.end = end
    balance.tankEndL = this.#world.volumeL
    balance.storedEndAh = battery.storedAs / 3_600
    balance.inAh = battery.inAs / 3_600
    balance.outAh = battery.outAs / 3_600
    balance.lostAh = battery.lostAs / 3_600
  }

  #followRun(at: Ms): void {
    const { pump, battery, control } = this.#world
    if (this.#run !== null && (!pump.on || pump.onSince !== this.#run.start)) this.#closeRun(at, this.#whyEnded())
    if (!pump.on) {
      this.#restA = battery.currentA
      this.#restV = battery.voltageV
      return
    }
    const run = this.#run ?? this.#openRun(pump.onSince)
    const seconds = 1
    this.#runS += seconds
    if (this.#runS === CARRIED_AFTER_S) this.#followSag(at)
    run.deliveredL += pump.arrivesLMin / 60
    run.pumpedL += pump.flowLMin / 60
    run.drawnL += this.#world.drawnL
    const inrushS = at === run.start ? INRUSH_MS / 1_000 : 0
    const inrushV = inrushS > 0 ? battery.voltageUnderExtra(pump.inrushA - pump.currentA) : 0
    const wattSeconds = battery.voltageV * pump.currentA * (seconds - inrushS) + inrushV * pump.inrushA * inrushS
    run.energyBatteryWh += wattSeconds / 3_600
    run.energyPumpWh += (pump.terminalV(battery.voltageV) * pump.currentA * seconds) / 3_600
    run.currentMeanA += (pump.currentA - run.currentMeanA) / this.#runS
    run.voltageMeanV += (battery.voltageV - run.voltageMeanV) / this.#runS
    run.voltageMinV = Math.min(run.voltageMinV, battery.voltageV)
    this.#followWater(at, run)
    if (control.stopped !== null) run.endReason = control.stopped
  }

  #followWater(at: Ms, run: TrueRun): void {
    const { pump } = this.#world
    if (pump.arrivesLMin > NOTHING_L_MIN) {
      run.firstWaterAt ??= at
      this.#thirstS = 0
      if (++this.#flowS >= GULP_S) run.waterStoppedAt = null
      return
    }
    this.#flowS = 0
    this.#thirstS++
    if (this.#thirstS === PRIME_S && run.firstWaterAt === null) this.mark(run.start, 'no-water')
    if (this.#thirstS === STOPPED_S && run.firstWaterAt !== null && run.waterStoppedAt === null) {
      run.waterStoppedAt = at - (STOPPED_S - 1) * 1_000
      this.mark(run.waterStoppedAt, 'water-stopped')
    }
  }

  /** A start at which the battery, not the charger, fed the pump, and its resistance had grown. */
  #followSag(at: Ms): void {
    const { battery, pump, plan, effects } = this.#world
    const carried = this.#restA - battery.currentA > CARRIED_SHARE * pump.currentA
    const seen = !plan.probes || (this.#restV * 12) / plan.battery.nominalV < MAY_BE_HELD_V
    if (!carried || !seen || effects.resistanceShare < SAGGING_SHARE) return
    this.#sagging += 1
    if (this.#sagging === 3) this.mark(at, 'third-sagging-start')
  }

  #whyEnded(): EndReason {
    const { pump, battery, control, effects } = this.#world
    if (control.stopped !== null) return control.stopped
    if (pump.tripped) return 'stalled'
    if (battery.cutOff || battery.dark || effects.circuitOpen) return 'power-lost'
    return 'unknown'
  }

  #openRun(start: Ms): TrueRun {
    this.#runS = 0
    this.#thirstS = 0
    this.#flowS = 0
    this.#day.fills++
    const faults = this.#world.faults.active(start).map((fault) => fault.kind)
    const levelM = this.#world.levelM
    this.#run = {
      start,
      end: start,
      deliveredL: 0,
      pumpedL: 0,
      drawnL: 0,
      energyBatteryWh: 0,
      energyPumpWh: 0,
      levelStartM: levelM,
      levelEndM: levelM,
      currentMeanA: 0,
      voltageMeanV: 0,
      voltageMinV: Number.POSITIVE_INFINITY,
      firstWaterAt: null,
      waterStoppedAt: null,
      endReason: 'unknown',
      faults,
    }
    this.truth.runs.push(this.#run)
    return this.#run
  }

  #closeRun(end: Ms, reason: EndReason): void {
    if (this.#run === null) return
    this.#run.end = end
    this.#run.endReason = reason
    this.#run.levelEndM = this.#world.levelM
    const began = this.#run.faults
    const now = this.#world.faults.active(end).map((fault) => fault.kind)
    this.#run.faults = [...began, ...now.filter((kind) => !began.includes(kind))]
    this.#run = null
  }

  #followDay(at: Ms): void {
    const day = this.#day
    const { pump, battery, weather, line, usedL, leakedL, overflowL } = this.#world
    const { balance } = this.truth
    const pumpedL = pump.arrivesLMin / 60
    day.end = at + 1_000
    day.pumpedL += pumpedL
    day.usedL += usedL
    day.leakedL += leakedL
    day.overflowL += overflowL
    balance.pumpedL += pumpedL
    balance.usedL += usedL
    balance.leakedL += leakedL
    balance.overflowL += overflowL
    if (pump.on) {
      day.runS++
      day.pumpWh += (battery.voltageV * pump.currentA) / 3_600
    }
    day.harvestWh += (battery.panelV * battery.panelA) / 3_600
    if (battery.voltageV < day.batteryMinV) day.batteryMinV = battery.voltageV
    if (battery.voltageV > day.batteryMaxV) day.batteryMaxV = battery.voltageV
    if (weather.airC < day.airMinC) day.airMinC = weather.airC
    if (weather.airC > day.airMaxC) day.airMaxC = weather.airC
    if (line.wallC < day.lineMinC) day.lineMinC = line.wallC
  }

  #followFlags(at: Ms): void {
    const { pump, control, battery, line, plan, volumeL, levelM, overflowL } = this.#world
    // The line's own limits lie apart, so that a wall at just 0 °C does not flutter.
    const cold = this.#up['line-at-zero'] === true ? line.wallC <= 0.3 : line.wallC <= 0
    const low = this.#up['below-reserve'] === true ? volumeL < plan.tank.reserveL * 1.02 : volumeL < plan.tank.reserveL
    this.#flag(at, 'rotor-locked', pump.on && pump.locked)
    this.#flag(at, 'past-high', pump.on && levelM > plan.tank.highMarkM && control.pastHighS > 60)
    this.#flag(at, 'overflowed', overflowL > 0 || (this.#up.overflowed === true && levelM > plan.tank.fullM - 0.02))
    this.#flag(at, 'below-reserve', low)
    this.#flag(at, 'cut-off', battery.cutOff, 'reconnected')
    this.#flag(at, 'went-dark', battery.dark)
    this.#flag(at, 'charge-low', battery.charge < (this.#up['charge-low'] === true ? 0.15 : 0.1))
    this.#flag(at, 'probes-contradict', control.highWet && !control.lowWet)
    this.#flag(at, 'line-at-zero', cold, 'line-above-zero')
    this.#flag(at, 'charged-cold', battery.temperatureC < -1 && battery.currentA > 0.03 * plan.battery.capacityAh)
    const { house } = this.#world
    this.#flag(at, 'house-often', house.often(at))
    this.#flag(at, 'house-runs', house.on && at - house.onSince > RUNS_ON_MS)
    this.#flag(at, 'called', control.calling && control.calledSince === at)
  }

  #flag(at: Ms, what: MarkId, up: boolean, over: MarkId | null = null): void {
    if (up === (this.#up[what] ?? false)) return
    this.#up[what] = up
    if (up) this.mark(at, what)
    else if (over !== null) this.mark(at, over)
  }

  #newDay(at: Ms): TrueDay {
    const day = {
      date: this.#local.date(at),
      start: at,
      end: at,
      pumpedL: 0,
      usedL: 0,
      leakedL: 0,
      overflowL: 0,
      fills: 0,
      runS: 0,
      pumpWh: 0,
      harvestWh: 0,
      batteryMinV: Number.POSITIVE_INFINITY,
      batteryMaxV: 0,
      airMinC: Number.POSITIVE_INFINITY,
      airMaxC: Number.NEGATIVE_INFINITY,
      lineMinC: Number.POSITIVE_INFINITY,
    }
    this.truth.days.push(day)
    return day
  }

  /** First whole hour at which the local date is another. Days of 23 and 25 hours come out right. */
  #endOfDay(at: Ms): Ms {
    const date = this.#local.date(at)
    for (let hour = Math.floor(at / HOUR) * HOUR + HOUR; hour < at + 2 * DAY; hour += HOUR) {
      if (this.#local.date(hour) !== date) return hour
    }
    throw new Error(`local-time: no end of the day ${date}`)
  }
}
