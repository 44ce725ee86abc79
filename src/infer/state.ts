/** The engine's whole memory of a site: plain data, so that it can be stored on the hour and taken up again. */
import type { EndReason } from '../model/fill.js'
import type { Ms } from '../model/time.js'
import { type BalanceState, createBalance } from './energy/balance.js'
import { createLine, type LineState } from './cold/line-state.js'
import { type ColdState, createCold } from './cold/state.js'
import type { EnergyState } from './energy.js'
import { createEpisode, type EpisodesState } from './episode/state.js'
import { createEvidence, type EvidenceState } from './evidence/state.js'
import { createLoss, type LossState } from './loss/state.js'
import { createPower, type PowerState } from './power/state.js'
import { type BoardTroublesState, createBoardTroubles } from './boards/state.js'
import { createHouse, type HouseState } from './house/state.js'
import { createRing, type Ring } from './ring.js'
import { createScreen, type ScreenState } from './screen.js'
import { createTrend, type TrendState } from './trend/state.js'
import { createUsual, type UsualState } from './usual.js'
import { createWell, type WellState } from './well/well.js'

/** A run of the pump, from its first sample above the threshold until its fill is written. */
export type Run = {
  start: Ms
  startSdS: number
  startKnown: boolean
  firstOn: Ms
  lastOn: Ms
  /** First sample below the threshold of a stop that is not yet sure. */
  offAt: Ms | null
  offCount: number
  /** Set once the stop is sure. */
  end: Ms | null
  endSdS: number
  endKnown: boolean
  energy: EnergyState
  /** Settled currents inside their band, thinned to a bounded number. */
  currents: number[]
  every: number
  skip: number
  runA: number | null
  runAAt: Ms
  /** When the current first reached nine tenths of its usual: the end of the start window. */
  reachedAt: Ms | null
  lightSince: Ms | null
  lightCount: number
  heavySince: Ms | null
  heavyCount: number
  settledCount: number
  lightFromStart: boolean
  peakA: number
  vSum: number
  vN: number
  vMin: number
  /** Level at the start, m, and from how many readings before it. */
  startLevelM: number | null
  startReadings: number
  /** One-minute means of volume, litres, during the run. */
  minuteT: Ms[]
  minuteV: number[]
  openT: Ms
  openSum: number
  openN: number
  /** Last instant at which water was seen to arrive. */
  arrivedAt: Ms | null
  firstRiseS: number | null
  /** The pump's own rate in this run, litres a minute, draws taken out. */
  rateLMin: number | null
  /** Its standard uncertainty. */
  rateSdLMin: number | null
  rateAt: Ms
  /** When the high probe was last wet during this run, or just after it. */
  highWetAt: Ms | null
  lowDryAtStart: boolean
  /** When the low probe was last wet before the run: waves wet it as long as the water is near it. */
  lowLastWet: Ms | null
  /** Meter at the start, litres, and what the flow sensor has counted since; null: no such sensor, or a gap in it. */
  meterStart: number | null
  flowL: number | null
}

export type PumpState = {
  zeroA: number
  lastT: Ms
  lastA: number
  lastOffT: Ms | null
  lastOffA: number
  seen: boolean
  run: Run | null
  recent: Ring
  starts: Ms[]
  heavyTries: Ms[]
  lastEndAt: Ms | null
  lastEnd: EndReason | null
  lastEndA: number | null
  restingUntil: Ms | null
}

export type ContactState = {
  seen: boolean
  wet: boolean
  since: Ms
  lastT: Ms
  lastWet: Ms
  lastDry: Ms
  /** Start of the present dry spell; a wet flicker of under a minute does not end it. */
  drySince: Ms | null
  changes: Ms[]
}

export type WaterState = {
  levels: Ring
  lastT: Ms
  /** Level smoothed over minutes while the pump rests, m; null: not since the last run. */
  restLevelM: number | null
  /** When the low probe was last dry while the high one was wet: such probes are not to be trusted for hours. */
  contradictions: Ms[]
  /** When the tank began to fill without any pump current; null: not, or a run was seen since. */
  unseenFillAt: Ms | null
  /** Usual seconds between level readings. */
  periodS: number
  noiseVar: number
  noiseN: number
  /** Newest run of identical readings. */
  sameSince: Ms
  sameCount: number
  sameValue: number
  low: ContactState
  high: ContactState
  full: ContactState
  calledSince: Ms | null
  atHighSince: Ms | null
  pastFullSince: Ms | null
  noRiseSince: Ms | null
  /** Probes only: volume reckoned from the last mark. */
  markT: Ms | null
  markL: number
  /** Draw between fills: litres and hours of the last intervals. */
  drawL: number[]
  drawH: number[]
  /** The last fill that left a known volume in the tank. */
  lastFill: { end: Ms; tankL: number; sdL: number } | null
}

export type BatteryState = {
  volts: Ring
  lowSince: Ms | null
  lastLowAt: Ms | null
  /** Hourly medians of resting voltage. */
  hourT: Ms[]
  hourV: number[]
  resting: number[]
  hour: number
  temperatureC: number | null
  temperatureT: Ms
}

export type DayState = {
  date: string
  start: Ms
  end: Ms
  fills: number
  runS: number
  pumpedL: number
  pumpedVar: number
  pumpedKnown: boolean
  pumpWh: number
  pumpWhVar: number
  energyKnown: boolean
  batteryMin: number | null
  batteryMax: number | null
  harvestWs: number
  harvestS: number
  airMin: number | null
  airMax: number | null
  /** Milliseconds of the day in which the least set of signals was fresh. */
  coveredMs: number
  volumeStart: number | null
  volumeEnd: number | null
  /** Probes only: litres used by intervals that closed, and until when the account is closed. */
  usedL: number
  usedVar: number
  usedFrom: Ms | null
  usedTo: Ms | null
  dirty: boolean
}

/** What is usual at this site, each learned from its own complete fills. */
export type UsualFigures = {
  currentA: UsualState
  voltageV: UsualState
  flowLMin: UsualState
  /** The pump's own rate over its voltage, litres a minute and volt; with probes only, band over volt-minutes. */
  ratePerV: UsualState
  volumeL: UsualState
  durationS: UsualState
  whPerL: UsualState
  startLevelM: UsualState
  endLevelM: UsualState
  startWindowS: UsualState
  firstRiseS: UsualState
}

export type FailState = { t: Ms[]; bad: number[] }

export type EngineState = {
  version: 1
  /** Every reading before this instant has been taken. */
  at: Ms
  nextLook: Ms
  lastLook: Ms
  completeFills: number
  /** When what had been learned was last put aside. */
  rebasedAt: Ms | null
  firstHeard: Ms | null
  lastHeard: Ms | null
  boards: (Ms | null)[]
  heard: (Ms | null)[]
  outages: { end: Ms; ms: number }[]
  screens: ScreenState[]
  fails: FailState[]
  pump: PumpState
  water: WaterState
  battery: BatteryState
  lines: LineState[]
  cold: ColdState
  airC: number | null
  airT: Ms
  occupied: boolean | null
  /** Volume meter: litres since the first reading, restarts bridged, and its latest raw value. */
  meterL: number
  meterRaw: number | null
  meterT: Ms
  flowLs: number | null
  flowT: Ms
  panelV: number | null
  panelA: number | null
  panelT: Ms
  days: DayState[]
  usual: UsualFigures
  lastWhPerL: number[]
  /** Since when a signal has been doubted, by `kind key`. */
  suspects: Record<string, Ms>
  house: HouseState
  boardTroubles: BoardTroublesState
  evidence: EvidenceState
  trend: TrendState
  episode: EpisodesState
  loss: LossState
  balance: BalanceState
  well: WellState
  power: PowerState
}

export function nothingUsual(): UsualFigures {
  return {
    currentA: createUsual(),
    voltageV: createUsual(),
    flowLMin: createUsual(),
    ratePerV: createUsual(),
    volumeL: createUsual(),
    durationS: createUsual(),
    whPerL: createUsual(),
    startLevelM: createUsual(),
    endLevelM: createUsual(),
    startWindowS: createUsual(),
    firstRiseS: createUsual(),
  }
}

function contact(): ContactState {
  return { seen: false, wet: false, since: 0, lastT: 0, lastWet: 0, lastDry: 0, drySince: null, changes: [] }
}

/** An empty memory for a site with so many boards, signals and lines. */
export function initialState(boards: number, signals: number, lines: number): EngineState {
  return {
    version: 1,
    at: 0,
    nextLook: 0,
    lastLook: 0,
    completeFills: 0,
    rebasedAt: null,
    firstHeard: null,
    lastHeard: null,
    boards: Array.from({ length: boards }, () => null),
    heard: Array.from({ length: signals }, () => null),
    outages: [],
    screens: Array.from({ length: signals }, createScreen),
    fails: Array.from({ length: signals }, () => ({ t: [], bad: [] })),
    pump: {
      zeroA: 0,
      lastT: 0,
      lastA: 0,
      lastOffT: null,
      lastOffA: 0,
      seen: false,
      run: null,
      recent: createRing(48),
      starts: [],
      heavyTries: [],
      lastEndAt: null,
      lastEnd: null,
      lastEndA: null,
      restingUntil: null,
    },
    water: {
      levels: createRing(64),
      lastT: 0,
      restLevelM: null,
      contradictions: [],
      unseenFillAt: null,
      periodS: 10,
      noiseVar: 0,
      noiseN: 0,
      sameSince: 0,
      sameCount: 0,
      sameValue: 0,
      low: contact(),
      high: contact(),
      full: contact(),
      calledSince: null,
      atHighSince: null,
      pastFullSince: null,
      noRiseSince: null,
      markT: null,
      markL: 0,
      drawL: [],
      drawH: [],
      lastFill: null,
    },
    battery: {
      volts: createRing(64),
      lowSince: null,
      lastLowAt: null,
      hourT: [],
      hourV: [],
      resting: [],
      hour: 0,
      temperatureC: null,
      temperatureT: 0,
    },
    lines: Array.from({ length: lines }, createLine),
    cold: createCold(),
    airC: null,
    airT: 0,
    occupied: null,
    meterL: 0,
    meterRaw: null,
    meterT: 0,
    flowLs: null,
    flowT: 0,
    panelV: null,
    panelA: null,
    panelT: 0,
    days: [],
    usual: nothingUsual(),
    lastWhPerL: [],
    suspects: {},
    house: createHouse(),
    boardTroubles: createBoardTroubles(boards),
    evidence: createEvidence(),
    trend: createTrend(),
    episode: createEpisode(),
    loss: createLoss(),
    balance: createBalance(),
    well: createWell(),
    power: createPower(),
  }
}
