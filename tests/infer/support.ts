import { createEngine, type Engine, type EngineEffects } from '../../src/infer/engine.js'
import type { EngineState } from '../../src/infer/state.js'
import type { Facts } from '../../src/model/facts.js'
import type { EnergyHour } from '../../src/model/facts-balance.js'
import type { Day, FillCycle } from '../../src/model/fill.js'
import { isRole, type SignalKey } from '../../src/model/roles.js'
import type { BoardSettings, SignalSettings, SiteSettings } from '../../src/model/settings.js'
import { MINUTE, type Ms, SECOND } from '../../src/model/time.js'

/** A Monday in May, midnight UTC. The bench's site is in UTC unless a test says otherwise. */
export const T0: Ms = Date.UTC(2026, 4, 4)

function signalOf(key: SignalKey): SignalSettings {
  const role = key.split('.')[0] ?? ''
  if (!isRole(role)) throw new Error(`no role: ${key}`)
  const plain = { topic: null, decode: 'senml', pointer: null, unit: null, scale: 1, offset: 0, table: null } as const
  return { key, role, name: key, ...plain, trueWhen: null, low: null, high: null, sentinels: [], sd: null }
}

function boardOf(id: string, keys: readonly SignalKey[]): BoardSettings {
  return { id, topic: `water/bench/${id}`, expectEveryS: 10, signals: keys.map(signalOf) }
}

export const LEVEL_KEYS = ['tank-level'] as const
export const PROBE_KEYS = ['tank-probe-low', 'tank-probe-high', 'tank-probe-full'] as const
const PUMP_KEYS = ['pump-current', 'battery-voltage'] as const

/**
 * A site for the bench: a box of 1 m² (so 1 mm is 1 l) between marks at 0.5 and 0.7 m, a pump of 3 A at 24 V lithium,
 * 10 s between readings, a board at the tank and one at the pump.
 */
export function benchSite(tankKeys: readonly SignalKey[] = LEVEL_KEYS, more: readonly SignalKey[] = []): SiteSettings {
  return {
    id: 'bench',
    name: '',
    timezone: 'Etc/UTC',
    latitudeDeg: null,
    longitudeDeg: null,
    elevationM: 0,
    units: 'si',
    boards: [boardOf('tank', tankKeys), boardOf('pump', [...PUMP_KEYS, ...more])],
    tank: {
      shape: { kind: 'box', lengthM: 1, widthM: 1, heightM: 1.2 },
      lowMarkM: 0.5,
      highMarkM: 0.7,
      fullM: 1.1,
      reserveL: null,
    },
    well: { liftM: 40, restAfterDryS: 1_800 },
    pump: { nominalVoltageV: 24, runningCurrentA: 3, longestFillS: 7_200 },
    battery: { chemistry: 'lifepo4', nominalVoltageV: 24, capacityAh: null },
    array: null,
    lines: [],
    water: { people: null, dailyNeedL: null },
    away: { usual: 'home', calendar: [] },
    season: { winterized: false },
    upkeep: [],
    alarms: {},
    tell: {
      people: [],
      ways: [],
      escalate: null,
      repeat: { afterS: 3_600, everyS: 86_400, most: 7 },
      digest: null,
      report: { monthly: [], weekly: [] },
      selfTest: 'never',
    },
  }
}

/** What a signal reads at an instant; null: nothing is sent then. */
export type Signal = (t: Ms) => number | null
export type Scene = Readonly<Record<SignalKey, Signal>>

/** An engine on a bench: fed with scenes, and what it said is kept. */
export class Bench {
  readonly engine: Engine
  state: EngineState
  readonly cycles: FillCycle[] = []
  readonly days = new Map<string, Day>()
  readonly refused: { key: SignalKey; t: Ms; value: number }[] = []
  readonly hours: Ms[] = []
  readonly energyHours: EnergyHour[] = []
  facts: Facts | null = null
  /** Called at each look with the facts of that look. */
  onLook: (facts: Facts) => void = () => {}
  readonly effects: EngineEffects = {
    fill: (cycle) => this.cycles.push(cycle),
    day: (day) => this.days.set(day.date, day),
    energy: (hour) => this.energyHours.push(hour),
    look: (facts) => {
      this.facts = facts
      this.onLook(facts)
    },
    hour: (at) => this.hours.push(at),
    tooFast: (signal, t, value) => this.refused.push({ key: this.engine.signals[signal] ?? '', t, value }),
  }

  constructor(site: SiteSettings) {
    this.engine = createEngine(site)
    this.state = this.engine.initial()
  }

  feed(key: SignalKey, t: Ms, value: number): void {
    const signal = this.engine.signals.indexOf(key)
    if (signal < 0) throw new Error(`no signal ${key}`)
    this.engine.feed(this.state, signal, t, value, this.effects)
  }

  advance(t: Ms): void {
    this.engine.advance(this.state, t, this.effects)
  }

  /** Feeds every signal of the scene each `everyMs` from `from` on, and looks until `to`. */
  play(scene: Scene, from: Ms, to: Ms, everyMs: Ms = 10 * SECOND): this {
    for (let t = from; t < to; t += everyMs) {
      for (const key of this.engine.signals) {
        const value = scene[key]?.(t) ?? null
        if (value !== null) this.feed(key, t, value)
      }
    }
    this.advance(to)
    return this
  }

  /** Hands over the days that are open. */
  flush(): this {
    this.engine.flush(this.state, this.effects)
    return this
  }

  get only(): FillCycle {
    const [cycle] = this.cycles
    if (cycle === undefined || this.cycles.length !== 1) {
      throw new Error(`expected one fill, found ${JSON.stringify(this.cycles)}`)
    }
    return cycle
  }

  get looked(): Facts {
    if (this.facts === null) throw new Error('no look yet')
    return this.facts
  }
}

export type Span = readonly [from: Ms, to: Ms]

export const FLOW_L_MIN = 4

/** A tank that the pump raises by `FLOW_L_MIN` in each span, from `startM`. */
export function filling(spans: readonly Span[], startM: number): Signal {
  return (t) => {
    let ms = 0
    for (const [from, to] of spans) ms += Math.max(0, Math.min(t, to) - from)
    return startM + ((ms / MINUTE) * FLOW_L_MIN) / 1_000
  }
}

/** 3 A (or what `amps` says) while the pump runs, else 0. */
export function running(spans: readonly Span[], amps: Signal = () => 3): Signal {
  return (t) => (spans.some(([from, to]) => t >= from && t < to) ? amps(t) : 0)
}

/** 26.4 V at rest, 25.6 V under load. */
export function sagging(spans: readonly Span[]): Signal {
  return (t) => (spans.some(([from, to]) => t >= from && t < to) ? 25.6 : 26.4)
}

/** The three signals of an ordinary site with a level sensor. */
export function ordinary(spans: readonly Span[], startM = 0.5): Scene {
  return { 'tank-level': filling(spans, startM), 'pump-current': running(spans), 'battery-voltage': sagging(spans) }
}

/** The same but silent in a span. */
export function silent(signal: Signal, [from, to]: Span): Signal {
  return (t) => (t >= from && t < to ? null : signal(t))
}
