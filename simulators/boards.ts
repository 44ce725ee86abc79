/** The boards of a place: when they sample, what they pack, and what their clocks and firmware do to it. */
import type { Ms } from '../src/model/time.js'
import type { BoardId } from './plan.js'
import { Random } from './random.js'
import type { Sensors } from './sensors.js'
import type { World } from './world.js'

export const SAMPLE_EVERY_MS = 10_000
/** Temperatures come with every sixth pack. */
const SLOW_EVERY = 6
/** Seconds that a time service's empty answer leaves a clock at: 2036-02-07T06:28:16Z. */
const EMPTY_REPLY_S = 2_085_978_496
const AHEAD_MS = 9 * 86_400_000

/** What a board measured at one moment, before it is put into a message. */
export type Pack = {
  readonly board: BoardId
  readonly at: Ms
  /** Text of the records without the opening of the first, which carries base name and time. */
  readonly records: string
  /** The board's own idea of `at`. */
  readonly clockMs: Ms
  /** null: sound; else the way in which the message is spoilt. */
  readonly spoilt: Spoilt | null
}

const SPOILT = ['cut-off', 'not-a-number', 'empty', 'other-unit', 'noise'] as const
type Spoilt = (typeof SPOILT)[number]

/** `synced`: absolute times. `none`: the board has no clock and says how long ago, or nothing for "now". */
export type BoardClock = 'synced' | 'none'

export class Board {
  readonly id: BoardId
  /** Next moment at which this board samples. */
  nextAt: Ms
  readonly #world: World
  readonly #sensors: Sensors
  readonly #random: Random
  #count = 0
  #bootAt: Ms | null = null
  #slot: Ms

  constructor(id: BoardId, world: World, sensors: Sensors, seed: number, startMs: Ms) {
    this.id = id
    this.#world = world
    this.#sensors = sensors
    this.#random = new Random(seed, id)
    this.#slot = startMs + this.#random.below(SAMPLE_EVERY_MS)
    this.nextAt = this.#slot
  }

  /** Samples now (at `nextAt`); null when the board is dark or dead. */
  sample(): Pack | null {
    const at = this.nextAt
    this.#slot += SAMPLE_EVERY_MS
    this.nextAt = this.#slot + Math.round(this.#random.between(-60, 60))
    const slow = this.#count++ % SLOW_EVERY === 0
    const { effects, battery } = this.#world
    if (this.#brownedOut(at) || battery.dark || effects.deadBoard === 'all' || effects.deadBoard === this.id) {
      this.#count = 0
      return null
    }
    const records = this.#records(at, slow)
    return { board: this.id, at, records, clockMs: this.#clock(at), spoilt: this.#spoil() }
  }

  #records(at: Ms, slow: boolean): string {
    if (this.id === 'house-board') return this.#houseRecords()
    return this.id === 'tank-board' ? this.#tankRecords(slow) : this.#pumpRecords(at, slow)
  }

  #houseRecords(): string {
    const s = this.#sensors
    return `"n":"house-pump-current","u":"A","v":${s.housePumpA()}},${record('house-pressure', 'Pa', s.housePa())}`
  }

  #brownedOut(at: Ms): boolean {
    const { effects, pump } = this.#world
    const { restartEveryS, restartForS } = effects
    if (this.id === 'pump-board' && restartEveryS > 0 && (at / 1_000) % restartEveryS < restartForS) return true
    return this.id === 'pump-board' && pump.on && at - pump.onSince < effects.brownOutS * 1_000
  }

  #tankRecords(slow: boolean): string {
    const { plan, control } = this.#world
    if (plan.probes) {
      return `"n":"tank-probe-low","vb":${control.lowWet}},{"n":"tank-probe-high","vb":${control.highWet}},{"n":"tank-probe-full","vb":${control.fullWet}}`
    }
    const temperatures = slow
      ? `,${record('air-temperature', 'Cel', this.#sensors.airC())},${record('line-temperature', 'Cel', this.#sensors.lineC())},${record('humidity', '%RH', this.#sensors.humidityRh())}`
      : ''
    return this.#levelRecord() + temperatures
  }

  #levelRecord(): string {
    const value = this.#sensors.levelM()
    const { levelUnit } = this.#world.effects
    if (levelUnit === 'm') return `"n":"tank-level","u":"m","v":${number(value)}}`
    const unit = levelUnit === 'cm' ? '"u":"cm",' : ''
    return `"n":"tank-level",${unit}"v":${number(Math.round(value * 1_000) / 10)}}`
  }

  #pumpRecords(at: Ms, slow: boolean): string {
    const s = this.#sensors
    const electric = `"n":"pump-current","u":"A","v":${s.pumpA(at)}},${record('battery-voltage', 'V', s.batteryV(at))}`
    if (this.#world.plan.probes) return electric + (slow ? `,${record('line-temperature', 'Cel', s.lineC())}` : '')
    const array = `,${record('battery-current', 'A', s.batteryA())},${record('panel-voltage', 'V', s.panelV())},${record('panel-current', 'A', s.panelA())}`
    const wellM = s.wellM()
    const well = wellM === null ? '' : `,${record('well-level', 'm', wellM)}`
    return electric + array + well + (slow ? `,${record('battery-temperature', 'Cel', s.batteryC())}` : '')
  }

  #clock(at: Ms): Ms {
    const { clock } = this.#world.effects
    // Faults of the clock are those of the pump's board.
    if (clock === 'good' || this.id !== 'pump-board') {
      this.#bootAt = null
      return at
    }
    this.#bootAt ??= at
    if (clock === 'ahead') return at + AHEAD_MS
    return (clock === 'unset' ? 0 : EMPTY_REPLY_S * 1_000) + (at - this.#bootAt) + 4_000
  }

  #spoil(): Spoilt | null {
    const { spoiltShare, spoiltBoard, garbledBoard } = this.#world.effects
    if (garbledBoard === this.id) return 'cut-off'
    if (spoiltShare === 0 || (spoiltBoard !== 'all' && spoiltBoard !== this.id)) return null
    return this.#random.chance(spoiltShare) ? (SPOILT[this.#random.below(SPOILT.length)] ?? null) : null
  }
}

/** The message for a pack, sent at `sentAt`. SenML (RFC 8428): base name, base time, records. */
export function payloadOf(pack: Pack, sentAt: Ms, clock: BoardClock): string {
  const agoS = (pack.at - sentAt) / 1_000
  const time = clock === 'synced' ? `"bt":${pack.clockMs / 1_000},` : agoS < -1 ? `"bt":${agoS},` : ''
  const sound = `[{"bn":"${pack.board}:",${time}${pack.records}]`
  return pack.spoilt === null ? sound : spoil(sound, pack.spoilt)
}

function spoil(sound: string, how: Spoilt): string {
  if (how === 'cut-off') return sound.slice(0, Math.floor(sound.length * 0.6))
  if (how === 'not-a-number') return sound.replace(/"v[b]?":[^}]+/, '"v":nan')
  if (how === 'empty') return ''
  if (how === 'other-unit') return sound.replace(/"u":"[A-Za-z]+"/, '"u":"lx"')
  return `\u0000\u0007{[${sound.slice(5, 15)}`
}

function record(name: string, unit: string, value: number): string {
  return `{"n":"${name}","u":"${unit}","v":${number(value)}}`
}

/** As firmware prints it: a missing number comes out as a bare word that is no JSON. */
function number(value: number): string {
  return Number.isNaN(value) ? 'nan' : String(value)
}
