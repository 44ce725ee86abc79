/** Records for the judge's tests: a site, and facts of a quiet moment that a test bends to its fault. */
import { ALARM_IDS, type AlarmId } from '../../src/model/alarm.js'
import { DAEMON_WELL, type DaemonFacts } from '../../src/model/daemon-facts.js'
import { emptyBalanceFacts } from '../../src/model/facts-balance.js'
import { emptyWellFacts } from '../../src/model/facts-well.js'
import { emptyPowerFacts } from '../../src/model/facts-power.js'
import { emptyTrendFacts } from '../../src/model/facts-trend.js'
import { emptyHouseFacts } from '../../src/model/facts-house.js'
import { nothingLost } from '../../src/model/facts-loss.js'
import type { Facts, LineFacts } from '../../src/model/facts.js'
import type { Modes } from '../../src/model/modes.js'
import type { AlarmSettings, SignalSettings, SiteSettings } from '../../src/model/settings.js'
import type { RoleId } from '../../src/model/roles.js'
import { emptyCold } from '../../src/infer/cold/look.js'
import { emptyEpisode } from '../../src/infer/episode/look.js'
import { emptyEvidence } from '../../src/infer/evidence/look.js'
import { createJudge, type Judge, type JudgeState, type Outcome } from '../../src/judge/judge.js'

/** Tuesday 3 February 2026, 14:00 at the invented site. */
export const START = Date.UTC(2026, 1, 3, 21, 0)
export const LOOK_MS = 15_000
/** What the clock shows beyond the event time of a look. */
export const LAG_MS = 10_000

function signal(key: string, role: RoleId): SignalSettings {
  return {
    key,
    role,
    name: key,
    topic: null,
    decode: 'senml',
    pointer: null,
    unit: null,
    scale: 1,
    offset: 0,
    table: null,
    trueWhen: null,
    low: null,
    high: null,
    sentinels: [],
    sd: null,
  }
}

export function aSite(alarms: Partial<Record<AlarmId, Partial<AlarmSettings>>> = {}): SiteSettings {
  const full: Partial<Record<AlarmId, AlarmSettings>> = {}
  for (const id of ALARM_IDS) {
    const set = alarms[id]
    if (set !== undefined)
      full[id] = { enabled: null, priority: null, onDelayS: null, offDelayS: null, numbers: {}, ...set }
  }
  return {
    id: 'juniper',
    name: 'Juniper Bench',
    timezone: 'America/Denver',
    latitudeDeg: 39.1,
    longitudeDeg: -112.3,
    elevationM: 1600,
    units: 'us',
    boards: [
      {
        id: 'tank-board',
        topic: 'water/juniper/tank-board',
        expectEveryS: 30,
        signals: [signal('tank-level', 'tank-level'), signal('line-temperature.outlet', 'line-temperature')],
      },
      {
        id: 'pump-board',
        topic: 'water/juniper/pump-board',
        expectEveryS: 10,
        signals: [signal('pump-current', 'pump-current')],
      },
      {
        id: 'power-board',
        topic: 'water/juniper/power-board',
        expectEveryS: 60,
        signals: [signal('battery-voltage', 'battery-voltage')],
      },
    ],
    tank: {
      shape: { kind: 'upright-cylinder', diameterM: 1.2, heightM: 1.5 },
      lowMarkM: 0.8,
      highMarkM: 1.2,
      fullM: 1.4,
      reserveL: 400,
    },
    well: { liftM: 40, restAfterDryS: 1_800 },
    pump: { nominalVoltageV: 24, runningCurrentA: 4.5, longestFillS: 7_200 },
    battery: { chemistry: 'lifepo4', nominalVoltageV: 24, capacityAh: 160 },
    array: { ratedW: 440, tiltDeg: 45, azimuthDeg: 180 },
    lines: [],
    water: { people: 2, dailyNeedL: 250 },
    away: { usual: 'home', calendar: [] },
    season: { winterized: false },
    upkeep: [],
    alarms: full,
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

/** Pump at rest, tank between its marks, battery well, boards talking: nothing to say. */
export function quietFacts(at: number): Facts {
  return {
    at,
    completeFills: 40,
    learning: false,
    pump: {
      known: true,
      running: false,
      since: null,
      ranS: 0,
      settled: false,
      currentA: 0.01,
      recentA: null,
      recentCount: 0,
      runA: null,
      usualA: { value: 4.5, sd: 0.1, fills: 40 },
      usualHereA: 4.5,
      lightSince: null,
      heavySince: null,
      lightCount: 0,
      heavyCount: 0,
      lightFromStart: false,
      heavyTriesIn10Min: 0,
      startsIn10Min: 0,
      lastEndAt: at - 4 * 3_600_000,
      lastEnd: 'full',
      lastEndA: 4.5,
      restingUntil: null,
    },
    water: {
      levelM: 1,
      levelSdM: 0.003,
      volumeL: 1131,
      volumeSdL: 5,
      reckoned: false,
      lowWet: null,
      lowSince: null,
      highWet: null,
      highSince: null,
      fullWet: null,
      fullSince: null,
      calledSince: null,
      atHighSince: null,
      pastFullSince: null,
      expectedRiseL: null,
      seenRiseL: null,
      riseSdL: null,
      riseWindowS: 0,
      arriving: null,
      arrivedAt: null,
      noRiseSince: null,
      usualFlowLMin: { value: 4, sd: 0.1, fills: 40 },
      rateShare: null,
      expectedFillS: null,
      drawLH: 10,
      hoursLeft: 110,
    },
    battery: {
      voltageV: 26.4,
      recentV: 26.4,
      loaded: false,
      restLowV: 25.6,
      loadedLowV: 24,
      cutOffV: 21,
      lowSince: null,
      lastLowAt: null,
      rejoinV: null,
      fallVH: null,
      hoursToCutOff: null,
      lowest30MinV: 26.3,
      temperatureC: 12,
    },
    lines: [aLine('tank outlet', 6)],
    cold: emptyCold(),
    boards: [
      { id: 'tank-board', expectEveryS: 30, lastHeard: at - 5_000 },
      { id: 'pump-board', expectEveryS: 10, lastHeard: at - 5_000 },
      { id: 'power-board', expectEveryS: 60, lastHeard: at - 20_000 },
    ],
    lastHeard: at - 5_000,
    firstHeard: at - 40 * 86_400_000,
    longestOutageMs: 0,
    airC: 4,
    occupied: false,
    balance: emptyBalanceFacts(),
    well: emptyWellFacts(),
    power: emptyPowerFacts(),
    trend: emptyTrendFacts(),
    suspects: [],
    house: emptyHouseFacts(),
    loss: nothingLost(),
    evidence: emptyEvidence(),
    episode: emptyEpisode(),
  }
}

export function aLine(name: string, temperatureC: number | null): LineFacts {
  return {
    name,
    temperatureC,
    modelled: false,
    frozenSince: null,
    hoursToZero: null,
    hoursToZeroLeast: null,
    hoursToIce: null,
    expectedMinC: null,
    expectedMinSdC: null,
    expectedMinAt: null,
    depthM: null,
    timeConstantH: 2,
    timeConstantLearned: true,
    flowing: false,
  }
}

/** The pump runs as usual since `since` and water arrives. */
export function running(facts: Facts, since: number): Facts {
  const ranS = (facts.at - since) / 1_000
  Object.assign(facts.pump, {
    running: true,
    since,
    ranS,
    settled: ranS >= 30,
    currentA: 4.5,
    recentA: ranS >= 30 ? 4.5 : null,
    recentCount: 6,
    runA: ranS >= 60 ? 4.5 : null,
  })
  Object.assign(facts.water, {
    expectedFillS: 3_600,
    expectedRiseL: ranS >= 120 ? 8 : null,
    seenRiseL: ranS >= 120 ? 7.6 : null,
    riseSdL: 1,
    riseWindowS: ranS >= 120 ? 120 : 0,
    arriving: ranS >= 120 ? true : null,
  })
  facts.battery.loaded = true
  facts.battery.recentV = 25.6
  return facts
}

/** The pump has run for an hour; at `stop` the water stopped and the current fell. */
export function wentDry(stop: number, amps = 2.4) {
  return (facts: Facts, at: number) => {
    running(facts, START - 3_600_000)
    if (at < stop) return
    const light = at - stop
    Object.assign(facts.pump, { currentA: amps, lightSince: stop, lightCount: Math.floor(light / 10_000) + 1 })
    if (light >= 30_000) facts.pump.recentA = amps
    Object.assign(facts.water, { seenRiseL: null, expectedRiseL: null, riseWindowS: 0, arriving: null })
  }
}

export const HOME: Modes = { away: false, winterized: false, maintenanceUntil: null }

export type Told = { readonly at: number; readonly reason: string; readonly key: string }

export type Bench = {
  readonly judge: Judge
  state: JudgeState
  modes: Modes
  daemon: DaemonFacts
  readonly told: Told[]
  readonly outcomes: Outcome[]
  /** Looks on the grid from the last one, `seconds` long; `bend` makes the fault of each look. */
  run(seconds: number, bend?: (facts: Facts, at: number) => void): Bench
  /** One look whose event time lies `behindMs` behind the clock. */
  lookBehind(behindMs: number, bend?: (facts: Facts, at: number) => void): Bench
  /** Leaves out the looks of some quiet time. */
  skip(ms: number): Bench
  keys(reason?: string): string[]
  /** Seconds after START at which the first notice of this key and reason came; null: none. */
  secondsTo(key: string, reason?: string): number | null
}

/** A judge with a clock: a fault is bent into quiet facts at every look. */
export function bench(site: SiteSettings = aSite(), judge: Judge = createJudge(site)): Bench {
  let at = START
  const it: Bench = {
    judge,
    state: judge.initial(),
    modes: HOME,
    daemon: DAEMON_WELL,
    told: [],
    outcomes: [],
    run(seconds, bend) {
      for (const end = at + seconds * 1_000; at < end; ) {
        at += LOOK_MS
        take(it, at, LAG_MS, bend)
      }
      return it
    },
    lookBehind(behindMs, bend) {
      at += LOOK_MS
      take(it, at, behindMs, bend)
      return it
    },
    skip(ms) {
      at += ms
      return it
    },
    keys: (reason = 'raised') => it.told.filter((one) => one.reason === reason).map((one) => one.key),
    secondsTo: (key, reason = 'raised') => {
      const found = it.told.find((one) => one.key === key && one.reason === reason)
      return found === undefined ? null : (found.at - START) / 1_000
    },
  }
  return it
}

function take(it: Bench, at: number, lagMs: number, bend?: (facts: Facts, at: number) => void): void {
  const facts = quietFacts(at)
  bend?.(facts, at)
  const outcome = it.judge.step(it.state, { facts, modes: it.modes, daemon: it.daemon, now: at + lagMs })
  it.outcomes.push(outcome)
  for (const notice of outcome.notices) it.told.push({ at, reason: notice.reason, key: notice.alarm.key })
}
