/** A site for the decoder's tests: the boards of the invented Juniper Bench, and ways to say what a board sent. */
import { createDecoder } from '../../src/decode/decoder.js'
import { type SignalKey, roleOfKey } from '../../src/model/roles.js'
import type { Arrival, Decoded, RefusalReason } from '../../src/model/sample.js'
import type { BoardSettings, SignalSettings, SiteSettings } from '../../src/model/settings.js'

/** Moment of receipt in these tests: 2025-11-24T16:00:00Z. */
export const AT = 1_764_000_000_000

export function signalOf(key: SignalKey, settings: Partial<SignalSettings> = {}): SignalSettings {
  const role = roleOfKey(key)
  if (role === null) throw new Error(`found key ${key}, expected a role or role.label`)
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
    ...settings,
  }
}

export function boardOf(id: string, signals: readonly SignalSettings[], topic = `water/juniper/${id}`): BoardSettings {
  return { id, topic, expectEveryS: 30, signals }
}

export function siteOf(boards?: readonly BoardSettings[], id = 'juniper'): SiteSettings {
  return {
    id,
    name: 'Juniper Bench',
    timezone: 'America/Los_Angeles',
    latitudeDeg: 39.2,
    longitudeDeg: -117.4,
    elevationM: 1850,
    units: 'us',
    boards: boards ?? [
      boardOf('tank-board', [
        signalOf('tank-level'),
        signalOf('tank-probe-low'),
        signalOf('air-temperature'),
        signalOf('line-temperature.outlet'),
        signalOf('humidity'),
      ]),
      boardOf('pump-board', [
        signalOf('pump-current'),
        signalOf('battery-voltage'),
        signalOf('battery-temperature'),
        signalOf('pump-volume'),
        signalOf('pump-flow'),
      ]),
    ],
    tank: null,
    well: { liftM: 40, restAfterDryS: 1800 },
    pump: { nominalVoltageV: 24, runningCurrentA: 3, longestFillS: 7200 },
    battery: null,
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

export type Sent = string | Uint8Array | readonly unknown[]

export function arrivalOf(topic: string, sent: Sent, at = AT, retain = false): Arrival {
  const text = typeof sent === 'string' || sent instanceof Uint8Array ? sent : JSON.stringify(sent)
  return { at, topic, payload: typeof text === 'string' ? new TextEncoder().encode(text) : text, retain }
}

/** What one message becomes; the message must concern exactly one board. */
export function decodeOne(site: SiteSettings, arrival: Arrival): Decoded {
  const decoded = createDecoder([site]).decode(arrival)
  const [only] = decoded
  if (only === undefined || decoded.length !== 1) throw new Error(`expected one board, found ${decoded.length}`)
  return only
}

/** A message from the tank board, and from the pump board, of the usual site. */
export const fromTank = (sent: Sent, at = AT): Decoded =>
  decodeOne(siteOf(), arrivalOf('water/juniper/tank-board', sent, at))
export const fromPump = (sent: Sent, at = AT): Decoded =>
  decodeOne(siteOf(), arrivalOf('water/juniper/pump-board', sent, at))

/** A board with one mapped signal, and what it makes of a payload. */
export function mapped(key: SignalKey, settings: Partial<SignalSettings>, sent: Sent): Decoded {
  const signal = signalOf(key, { topic: 'old/board', decode: 'number', ...settings })
  return decodeOne(siteOf([boardOf('old-board', [signal])]), arrivalOf('old/board', sent))
}

export const reasons = (decoded: Decoded): readonly RefusalReason[] => decoded.refusals.map(({ reason }) => reason)
export const values = (decoded: Decoded): readonly number[] => decoded.samples.map(({ value }) => value)
export const times = (decoded: Decoded): readonly number[] => decoded.samples.map(({ t }) => t)
