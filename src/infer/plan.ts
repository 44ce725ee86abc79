/** What follows from the configuration alone, worked out once per site. */
import { ROLES, type RoleId, type RoleSpec, type SignalKey } from '../model/roles.js'
import type { Chemistry, LineSettings, SignalSettings, SiteSettings } from '../model/settings.js'
import { SECOND } from '../model/time.js'
import { createCalendar, type Calendar } from './calendar.js'
import { type Pipe, pipeOf } from './cold/pipe.js'
import { litresPerMetre, volumeAt } from './tank.js'

/** Resting and loaded limits and the usual cut-off per 12 V of nominal voltage [common practice, 25 °C]. */
const CHEMISTRY_LIMITS: Record<
  Chemistry,
  { rest: number; loaded: number; cutOff: number; knee: number; rejoin: number }
> = {
  lifepo4: { rest: 12.8, loaded: 12.2, cutOff: 11.6, knee: 13.0, rejoin: 13.2 },
  flooded: { rest: 12.0, loaded: 11.7, cutOff: 11.4, knee: 12.3, rejoin: 12.7 },
  agm: { rest: 12.0, loaded: 11.7, cutOff: 11.4, knee: 12.3, rejoin: 12.7 },
  gel: { rest: 12.0, loaded: 11.7, cutOff: 11.4, knee: 12.3, rejoin: 12.7 },
}

/** Wire to water for a small direct-current pump while nothing is learned: the middle of 20–45 % [common practice]. */
const PRIOR_EFFICIENCY = 0.33

export type SignalPlan = {
  readonly key: SignalKey
  readonly role: RoleId
  readonly spec: RoleSpec
  readonly board: number
  /** Longer than this without a value, and the signal says nothing about now. */
  readonly staleMs: number
  readonly gapMs: number
}

export type SitePlan = {
  readonly site: SiteSettings
  readonly calendar: Calendar
  readonly signals: readonly SignalPlan[]
  readonly index: Readonly<Partial<Record<RoleId, number>>>
  /** The voltage that energy is reckoned with. */
  readonly supply: number | null
  readonly battery: number | null
  readonly levelSdM: number
  readonly currentSd: number
  readonly currentGainSd: number
  readonly voltageGainSd: number
  readonly levelGainSd: number
  readonly lowL: number | null
  readonly highL: number | null
  readonly areaLM: number
  readonly limits: {
    readonly rest: number
    readonly loaded: number
    readonly cutOff: number
    readonly knee: number
    readonly rejoin: number
  } | null
  readonly nominalV: number | null
  readonly priorFlowLMin: number | null
  /** Index of the signal that each line's temperature comes from. */
  readonly lineSignals: readonly (number | null)[]
  readonly pipes: readonly Pipe[]
  /** The signal whose nights are followed: the air's, else a line's own in the open; null: none. */
  readonly nightSource: number | null
}

/** Signals in the order of the configuration: this order is the series order everywhere. */
export function signalsOf(site: SiteSettings): readonly { board: number; signal: SignalSettings }[] {
  return site.boards.flatMap((board, index) => board.signals.map((signal) => ({ board: index, signal })))
}

export function createPlan(site: SiteSettings): SitePlan {
  const listed = signalsOf(site)
  const index: Partial<Record<RoleId, number>> = {}
  const signals = listed.map(({ board, signal }, i): SignalPlan => {
    if (index[signal.role] === undefined) index[signal.role] = i
    const everyMs = (site.boards[board]?.expectEveryS ?? 30) * SECOND
    const spec: RoleSpec = ROLES[signal.role]
    return {
      key: signal.key,
      role: signal.role,
      spec,
      board,
      staleMs: Math.max(3 * 60 * SECOND, 5 * everyMs),
      gapMs: Math.max(90 * SECOND, 4 * everyMs),
    }
  })
  const sdOf = (role: RoleId): number => {
    const at = index[role]
    return (at === undefined ? null : listed[at]?.signal.sd) ?? ROLES[role].sd
  }
  const tank = site.tank
  const nominalV = site.battery?.nominalVoltageV ?? site.pump.nominalVoltageV
  const lineSignals = site.lines.map((line) => lineSignal(site, line, signals))
  const base = site.battery === null ? null : CHEMISTRY_LIMITS[site.battery.chemistry]
  const ratio = (site.battery?.nominalVoltageV ?? 12) / 12
  return {
    site,
    calendar: createCalendar(site.timezone),
    signals,
    index,
    supply: index['pump-voltage'] ?? index['battery-voltage'] ?? null,
    battery: index['battery-voltage'] ?? index['pump-voltage'] ?? null,
    levelSdM: sdOf('tank-level'),
    currentSd: sdOf('pump-current'),
    currentGainSd: ROLES['pump-current'].gainSd,
    voltageGainSd: ROLES['battery-voltage'].gainSd,
    levelGainSd: ROLES['tank-level'].gainSd,
    lowL: tank === null ? null : volumeAt(tank.shape, tank.lowMarkM),
    highL: tank === null ? null : volumeAt(tank.shape, tank.highMarkM),
    areaLM: tank === null ? 0 : litresPerMetre(tank.shape, (tank.lowMarkM + tank.highMarkM) / 2),
    limits:
      base === null
        ? null
        : {
            rest: base.rest * ratio,
            loaded: base.loaded * ratio,
            cutOff: base.cutOff * ratio,
            knee: base.knee * ratio,
            rejoin: base.rejoin * ratio,
          },
    nominalV,
    priorFlowLMin: priorFlow(site, nominalV),
    lineSignals,
    pipes: site.lines.map(pipeOf),
    nightSource:
      index['air-temperature'] ?? lineSignals.find((at, i) => at !== null && site.lines[i]?.kind !== 'buried') ?? null,
  }
}

/** A line's own thermometer: the one it names; one that no line names belongs to the only line in the open that names none. */
function lineSignal(site: SiteSettings, line: LineSettings, signals: readonly SignalPlan[]): number | null {
  const nameless = site.lines.filter((one) => one.temperatureKey === null && one.kind !== 'buried')
  const free = site.lines.every((one) => one.temperatureKey !== 'line-temperature')
  const key = line.temperatureKey ?? (free && nameless.length === 1 && nameless[0] === line ? 'line-temperature' : null)
  const at = key === null ? -1 : signals.findIndex((signal) => signal.key === key)
  return at < 0 ? null : at
}

/** Flow from ratings and lift: η·V·I = ρ·g·Q·H. Null where the configuration lacks one of them. */
function priorFlow(site: SiteSettings, nominalV: number | null): number | null {
  const { runningCurrentA } = site.pump
  const { liftM } = site.well
  if (runningCurrentA === null || liftM === null || nominalV === null || liftM <= 0) return null
  return ((PRIOR_EFFICIENCY * nominalV * runningCurrentA) / (9.80665 * liftM)) * 60
}
