/** Made-up sites for the tests of the page: Juniper Bench with a level sensor, Fern Hollow with probes only. */
import { emptyEpisode } from '../../src/infer/episode/look.js'
import { emptyEvidence } from '../../src/infer/evidence/look.js'
import type { Alarm, AlarmId, Priority } from '../../src/model/alarm.js'
import { emptyBalanceFacts } from '../../src/model/facts-balance.js'
import { emptyWellFacts } from '../../src/model/facts-well.js'
import { emptyPowerFacts } from '../../src/model/facts-power.js'
import { emptyTrendFacts } from '../../src/model/facts-trend.js'
import { emptyHouseFacts } from '../../src/model/facts-house.js'
import { nothingLost } from '../../src/model/facts-loss.js'
import type { Facts } from '../../src/model/facts.js'
import type { Day, FillCycle } from '../../src/model/fill.js'
import { ROLES, type RoleId } from '../../src/model/roles.js'
import type { BoardSettings, SignalSettings, SiteSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE, type Ms, SECOND } from '../../src/model/time.js'
import { aColdEvening } from './fake-cold.js'

/** Tue 3 Feb 2026 14:05 in Denver. */
export const NOW: Ms = Date.parse('2026-02-03T21:05:00Z')

function signal(role: RoleId, label?: string): SignalSettings {
  return {
    key: label === undefined ? role : `${role}.${label}`,
    role,
    name: role,
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

function board(id: string, expectEveryS: number, signals: readonly SignalSettings[]): BoardSettings {
  return { id, topic: `water/juniper/${id}`, expectEveryS, signals }
}

export const JUNIPER: SiteSettings = {
  id: 'juniper',
  name: 'Juniper Bench',
  timezone: 'America/Denver',
  latitudeDeg: 38.4,
  longitudeDeg: -108.9,
  elevationM: 1900,
  units: 'us',
  boards: [
    board('tank-board', 30, [signal('tank-level'), signal('tank-probe-high')]),
    board('power-board', 10, [
      signal('pump-current'),
      signal('battery-voltage'),
      signal('panel-voltage'),
      signal('panel-current'),
    ]),
    board('weather-board', 300, [signal('air-temperature'), signal('humidity'), signal('line-temperature', 'outlet')]),
  ],
  tank: {
    shape: { kind: 'upright-cylinder', diameterM: 1.22, heightM: 1.5 },
    lowMarkM: 0.9,
    highMarkM: 1.2,
    fullM: 1.4,
    reserveL: 400,
  },
  well: { liftM: 55, restAfterDryS: 1800 },
  pump: { nominalVoltageV: 24, runningCurrentA: null, longestFillS: 7200 },
  battery: { chemistry: 'lifepo4', nominalVoltageV: 24, capacityAh: 160 },
  array: { ratedW: 440, tiltDeg: 45, azimuthDeg: 180 },
  lines: [
    {
      name: 'tank outlet',
      kind: 'boxed',
      insideDiameterM: 0.025,
      depthM: null,
      insulationM: 0.02,
      temperatureKey: 'line-temperature.outlet',
    },
  ],
  water: { people: 2, dailyNeedL: 265 },
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
    selfTest: 'monthly',
  },
}

export const FERN: SiteSettings = {
  ...JUNIPER,
  id: 'fern',
  name: 'Fern Hollow',
  timezone: 'America/Los_Angeles',
  units: 'si',
  boards: [
    board('probe-board', 60, [signal('tank-probe-low'), signal('tank-probe-high'), signal('tank-probe-full')]),
    board('pump-board', 10, [signal('pump-current'), signal('battery-voltage')]),
  ],
  tank: {
    shape: { kind: 'box', lengthM: 1.6, widthM: 1, heightM: 1.2 },
    lowMarkM: 0.5,
    highMarkM: 1,
    fullM: 1.1,
    reserveL: null,
  },
  lines: [],
}

/** Juniper in the middle of a fill, everything as usual. */
export function juniperFacts(at: Ms = NOW): Facts {
  const begun = at - 23 * MINUTE
  return {
    at,
    completeFills: 41,
    learning: false,
    pump: {
      known: true,
      running: true,
      since: begun,
      ranS: 23 * 60,
      settled: true,
      currentA: 4.42,
      recentA: 4.4,
      recentCount: 6,
      runA: 4.41,
      usualA: { value: 4.46, sd: 0.09, fills: 41 },
      usualHereA: 4.43,
      lightSince: null,
      heavySince: null,
      lightCount: 0,
      heavyCount: 0,
      lightFromStart: false,
      heavyTriesIn10Min: 0,
      startsIn10Min: 0,
      lastEndAt: begun - 31 * HOUR,
      lastEnd: 'full',
      lastEndA: 4.45,
      restingUntil: null,
    },
    water: {
      levelM: 1.016,
      levelSdM: 0.004,
      volumeL: 1187.7,
      volumeSdL: 6,
      reckoned: false,
      lowWet: null,
      lowSince: null,
      highWet: false,
      highSince: begun - 9 * HOUR,
      fullWet: null,
      fullSince: null,
      calledSince: begun - 20 * SECOND,
      atHighSince: null,
      pastFullSince: null,
      expectedRiseL: 45,
      arriving: true,
      seenRiseL: 44.1,
      riseSdL: 2.4,
      riseWindowS: 600,
      arrivedAt: null,
      noRiseSince: null,
      usualFlowLMin: { value: 4.55, sd: 0.1, fills: 41 },
      rateShare: null,
      expectedFillS: 77 * 60,
      drawLH: 10.2,
      hoursLeft: 116,
    },
    battery: {
      voltageV: 26.18,
      recentV: 26.2,
      loaded: true,
      restLowV: 25.6,
      loadedLowV: 24.4,
      cutOffV: 21.5,
      lowSince: null,
      lastLowAt: null,
      rejoinV: null,
      fallVH: null,
      hoursToCutOff: null,
      lowest30MinV: 26.1,
      temperatureC: 7.5,
    },
    lines: [
      {
        name: 'tank outlet',
        temperatureC: 5.5,
        modelled: false,
        frozenSince: null,
        hoursToZero: null,
        hoursToZeroLeast: 9,
        hoursToIce: null,
        expectedMinC: 1.5,
        expectedMinSdC: 1.2,
        expectedMinAt: NOW + 16 * HOUR,
        depthM: null,
        timeConstantH: 3.1,
        timeConstantLearned: true,
        flowing: true,
      },
    ],
    cold: aColdEvening(NOW),
    boards: [
      { id: 'tank-board', expectEveryS: 30, lastHeard: at - 12 * SECOND },
      { id: 'power-board', expectEveryS: 10, lastHeard: at - 4 * SECOND },
      { id: 'weather-board', expectEveryS: 300, lastHeard: at - 151 * SECOND },
    ],
    lastHeard: at - 4 * SECOND,
    firstHeard: at - 60 * DAY,
    longestOutageMs: 22 * MINUTE,
    airC: 3.4,
    occupied: true,
    balance: emptyBalanceFacts(),
    well: emptyWellFacts(),
    power: emptyPowerFacts(),
    trend: emptyTrendFacts(),
    suspects: [],
    evidence: emptyEvidence(),
    episode: emptyEpisode(),
    house: emptyHouseFacts(),
    loss: nothingLost(),
  }
}

/** Fern: probes only, water between the marks, still learning. */
export function fernFacts(at: Ms = NOW): Facts {
  const base = juniperFacts(at)
  return {
    ...base,
    completeFills: 3,
    learning: true,
    pump: { ...base.pump, running: false, since: null, ranS: 0, currentA: 0.02, usualA: null },
    water: {
      ...base.water,
      levelM: null,
      levelSdM: null,
      volumeL: 1180,
      volumeSdL: 120,
      reckoned: true,
      lowWet: true,
      highWet: false,
      fullWet: false,
      calledSince: null,
      arriving: null,
      usualFlowLMin: null,
      expectedFillS: null,
      hoursLeft: null,
    },
    battery: { ...base.battery, loaded: false, temperatureC: null },
    lines: [],
    boards: [
      { id: 'probe-board', expectEveryS: 60, lastHeard: at - 40 * SECOND },
      { id: 'pump-board', expectEveryS: 10, lastHeard: null },
    ],
    airC: null,
    occupied: null,
  }
}

export function dryWell(at: Ms = NOW): Alarm {
  return alarm('dry-well', 'well', 'high', at - 34 * MINUTE, {
    title: 'Water has stopped arriving: the well may be dry',
    what: 'Since 13:31 the pump has drawn 2.6 A (usual 4.4 A) and the tank has not risen.',
    causes: ['The well has been drawn down', 'The pump has lost its prime', 'A broken coupling'],
    action: 'Switch the pump off at its breaker and leave the well to recover for some hours.',
    ifIgnored: 'A pump that runs dry wears its seals within minutes to hours.',
    caution: 'Lock off array and battery before any work at the pump.',
    timeLeft: 'The tank holds water for about 4 d.',
  })
}

export function alarm(id: AlarmId, subject: string, priority: Priority, since: Ms, words: Alarm['words']): Alarm {
  return {
    key: `${id}:${subject}`,
    id,
    subject,
    priority,
    state: 'unacknowledged',
    since,
    raised: since + 4 * MINUTE,
    cleared: null,
    cause: 'the current fell out of its band while the level stood still',
    evidence: [
      { label: 'Pump current', quantity: 'current', value: 2.61, usual: 4.43 },
      { label: 'Rise in 10 min', quantity: 'volume', value: 0.3, usual: 45 },
    ],
    words,
    acknowledgedBy: null,
    acknowledgedAt: null,
    shelvedUntil: null,
    shelveReason: null,
    explainedBy: null,
    raisesInDay: 1,
  }
}

export function cycles(count: number, at: Ms = NOW): FillCycle[] {
  return Array.from({ length: count }, (_, index): FillCycle => {
    const start = at - (count - index) * 32 * HOUR + 17 * MINUTE
    const lost = index === 3
    return {
      start,
      end: start + (lost ? 31 : 76) * MINUTE,
      durationS: (lost ? 31 : 76) * 60 + index,
      durationSdS: 6,
      volumeL: lost ? null : { value: 346 + index, sd: 5 },
      energyWh: lost ? null : { value: 143 + index / 2, sd: 2 },
      flowLMin: lost ? null : { value: 4.55, sd: 0.07 },
      whPerL: lost ? null : { value: 0.413, sd: 0.008 },
      currentMeanA: 4.44,
      voltageMeanV: 25.4,
      voltageMinV: 24.9,
      levelStartM: 0.9,
      levelEndM: lost ? null : 1.2,
      firstRiseS: 95,
      endReason: lost ? 'power-lost' : 'full',
      complete: !lost,
    }
  })
}

export function days(count: number, at: Ms = NOW): Day[] {
  return Array.from({ length: count }, (_, index): Day => {
    const start = at - (count - index) * DAY
    return {
      date: new Date(start).toISOString().slice(0, 10),
      start,
      end: start + DAY,
      pumpedL: { value: 250 + index, sd: 6 },
      usedL: index === 2 ? null : { value: 245 + index, sd: 14 },
      fills: index % 2,
      runS: 3300,
      pumpWh: { value: 104, sd: 2 },
      whPerL: { value: 0.413, sd: 0.01 },
      batteryMinV: 25.1,
      batteryMaxV: 28.3,
      harvestWh: 860,
      airMinC: -6.1,
      airMaxC: 7.9,
      covered: index === 2 ? 0.4 : 0.999,
    }
  })
}

/** The course of a signal over a day: smooth, the same each time, silent for 50 min in the night. */
export function course(key: string, t: Ms): number | null {
  const hours = (t - NOW) / HOUR
  if (hours > -11 && hours < -10.17) return null
  switch (key) {
    case 'tank-level':
      return hours < -23 / 60 ? 0.98 + (-hours - 23 / 60) * 0.009 : 0.98 + (hours + 23 / 60) * 0.094
    case 'pump-current':
      return hours < -23 / 60 ? 0.02 : 4.42 + 0.05 * Math.sin(hours * 40)
    case 'battery-voltage':
      return 26.4 + 0.7 * Math.sin(((hours + 1) / 24) * 2 * Math.PI) - (hours > -23 / 60 ? 0.5 : 0)
    case 'air-temperature':
      return 1 + 6 * Math.sin(((hours + 5) / 24) * 2 * Math.PI)
    default:
      return ROLES[key.split('.')[0] as RoleId].kind === 'contact' ? (hours > -3 ? 0 : 1) : 12
  }
}
