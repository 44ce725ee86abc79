/**
 * The configuration after checking, in SI, as plain records. `config` makes these; every other room only reads them.
 * Null means "not given": the code that needs the figure says so instead of assuming one.
 */
import type { AlarmId, Priority } from './alarm.js'
import type { RoleId, SignalKey } from './roles.js'
import type { Ms } from './time.js'

export type UnitSystem = 'us' | 'si'

export type SignalDecode = 'senml' | 'number' | 'json'

export type SignalSettings = {
  readonly key: SignalKey
  readonly role: RoleId
  /** SenML: the resolved name (bn + n) that means this signal, or its last part after the board's own base name. */
  readonly name: string
  /** Topic of a mapped signal; null: the board's own topic. */
  readonly topic: string | null
  readonly decode: SignalDecode
  /** RFC 6901 pointer, for `decode: json`. */
  readonly pointer: string | null
  /** Unit of a mapped payload before conversion; null: already the role's SI unit. */
  readonly unit: string | null
  readonly scale: number
  readonly offset: number
  /** Calibration points [raw, SI value], ascending in raw; interpolated, and refused outside. Null: none. */
  readonly table: readonly (readonly [number, number])[] | null
  /** Payloads that mean true for a contact; null: true, 1, "on", "true", "1", "wet", "yes" (any case). */
  readonly trueWhen: readonly (string | number | boolean)[] | null
  /** Configured limits, narrower than the role's; null: the role's. */
  readonly low: number | null
  readonly high: number | null
  /** Further values that mean "sensor failed". */
  readonly sentinels: readonly number[]
  /** Standard uncertainty in the role's unit; null: the role's. */
  readonly sd: number | null
}

export type BoardSettings = {
  readonly id: string
  readonly topic: string
  readonly expectEveryS: number
  readonly signals: readonly SignalSettings[]
}

export type TankShape =
  | { readonly kind: 'box'; readonly lengthM: number; readonly widthM: number; readonly heightM: number }
  | { readonly kind: 'upright-cylinder'; readonly diameterM: number; readonly heightM: number }
  | { readonly kind: 'lying-cylinder'; readonly diameterM: number; readonly lengthM: number }
  /** [level m, volume l], ascending. */
  | { readonly kind: 'table'; readonly points: readonly (readonly [number, number])[] }

export type TankSettings = {
  readonly shape: TankShape
  readonly lowMarkM: number
  readonly highMarkM: number
  readonly fullM: number
  readonly reserveL: number | null
}

export type Chemistry = 'lifepo4' | 'flooded' | 'agm' | 'gel'

export type LineSettings = {
  readonly name: string
  readonly kind: 'exposed' | 'boxed' | 'buried'
  readonly insideDiameterM: number | null
  readonly depthM: number | null
  readonly insulationM: number | null
  readonly temperatureKey: SignalKey | null
}

export type UpkeepSettings = { readonly name: string; readonly everyDays: number }

/** Per alarm: what the owner set; null members fall back to the alarm's own defaults (docs/alarms.md). */
export type AlarmSettings = {
  readonly enabled: boolean | null
  readonly priority: Priority | null
  readonly onDelayS: number | null
  readonly offDelayS: number | null
  /** Any further number that this alarm's own file lists, in SI, by name. */
  readonly numbers: Readonly<Record<string, number>>
}

export type SiteSettings = {
  readonly id: string
  readonly name: string
  readonly timezone: string
  readonly latitudeDeg: number | null
  readonly longitudeDeg: number | null
  readonly elevationM: number
  readonly units: UnitSystem
  readonly boards: readonly BoardSettings[]
  readonly tank: TankSettings | null
  readonly well: { readonly liftM: number | null; readonly restAfterDryS: number }
  readonly pump: {
    readonly nominalVoltageV: number | null
    readonly runningCurrentA: number | null
    readonly longestFillS: number
  }
  readonly battery: {
    readonly chemistry: Chemistry
    readonly nominalVoltageV: number
    readonly capacityAh: number | null
  } | null
  readonly array: {
    readonly ratedW: number
    readonly tiltDeg: number | null
    readonly azimuthDeg: number | null
  } | null
  readonly lines: readonly LineSettings[]
  readonly water: { readonly people: number | null; readonly dailyNeedL: number | null }
  readonly away: {
    readonly usual: 'home' | 'away'
    readonly calendar: readonly (readonly [Ms, Ms])[]
  }
  readonly season: { readonly winterized: boolean }
  /** What is to be done again and again, by the owner's own names. */
  readonly upkeep: readonly UpkeepSettings[]
  readonly alarms: Readonly<Partial<Record<AlarmId, AlarmSettings>>>
  readonly tell: TellSettings
}

export type WaySettings =
  | {
      readonly kind: 'email'
      readonly id: string
      readonly host: string
      readonly port: number
      readonly secure: boolean
      readonly username: string | null
      readonly password: string | null
      readonly from: string
      readonly to: string
      readonly short: boolean
    }
  | { readonly kind: 'webhook'; readonly id: string; readonly url: string; readonly secret: string }
  | { readonly kind: 'mqtt'; readonly id: string; readonly topic: string }
  /** `contact`: whom a push service may ask about us (RFC 8292), a mailto: or https: address. */
  | { readonly kind: 'web-push'; readonly id: string; readonly contact: string }

export type PersonSettings = {
  readonly name: string
  readonly ways: readonly string[]
  /** Minutes after local midnight, [from, to); may wrap over midnight. Null: none. */
  readonly quiet: readonly [number, number] | null
  readonly least: Priority
}

export type TellSettings = {
  readonly people: readonly PersonSettings[]
  readonly ways: readonly WaySettings[]
  readonly escalate: { readonly afterS: number; readonly to: readonly string[] } | null
  /** When what nobody acknowledged is told again: after (critical only), then every, at most so many times. */
  readonly repeat: { readonly afterS: number; readonly everyS: number; readonly most: number }
  readonly digest: { readonly atMinute: number; readonly to: readonly string[] } | null
  /** Who gets the month, and who the week, on one page. */
  readonly report: { readonly monthly: readonly string[]; readonly weekly: readonly string[] }
  readonly selfTest: 'monthly' | 'never'
}

export type TlsSettings = { readonly keyFile: string; readonly certFile: string; readonly port: number | null }

export type BrokerSettings =
  | {
      readonly kind: 'embedded'
      readonly host: string
      readonly port: number
      readonly tls: TlsSettings | null
      readonly anonymous: boolean
    }
  | {
      readonly kind: 'external'
      readonly url: string
      readonly username: string | null
      readonly password: string | null
      readonly clientId: string
      readonly caFile: string | null
    }

/** Store and forward to a second daemon's broker. */
export type UplinkSettings = {
  /** How often readings go up, and how many bytes a month they may cost. */
  readonly everyS: number
  readonly monthBytes: number
  readonly url: string
  readonly username: string | null
  readonly password: string | null
  readonly clientId: string
  readonly caFile: string | null
}

/** Outbound "all is well", sent only while receive, infer, judge and a commit all work. */
export type BeatSettings = { readonly everyS: number; readonly url: string; readonly secret: string | null }

/** An account that the configuration asks for; it is made, or its password set anew, at start. */
export type AccountSettings = {
  readonly name: string
  readonly role: 'owner' | 'viewer' | 'board'
  readonly password: string
  /** The one site it is for; null: all. */
  readonly site: string | null
}

export type DaemonSettings = {
  readonly store: { readonly file: string; readonly keepSamplesDays: number }
  readonly broker: BrokerSettings
  readonly page: {
    readonly host: string
    readonly port: number
    readonly tls: TlsSettings | null
    readonly openOnLoopback: boolean
    /** Where people reach the page, for the links in messages; absent: not said. */
    readonly address?: string
  }
  readonly accounts: readonly AccountSettings[]
  readonly uplink: UplinkSettings | null
  readonly beat: BeatSettings | null
  readonly sites: readonly SiteSettings[]
}
