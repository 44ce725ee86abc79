/**
 * What a signal measures, and what can be believed of it. One table: the decoder refuses by it, the store names
 * series by it, the engine and the page look units up in it.
 */

/** `number`: a continuous quantity; `contact`: true (1) or false (0); `counter`: only grows, may wrap or restart. */
export type RoleKind = 'number' | 'contact' | 'counter'

export type RoleSpec = {
  readonly kind: RoleKind
  /** SI unit as RFC 8428 or RFC 8798 names it; '' for contacts. */
  readonly unit: string
  /** Plausible limits in that unit, inclusive; outside them a record is refused as `out-of-range`. */
  readonly low: number
  readonly high: number
  /** Values that sensors of this kind are known to send when they have failed; refused as `sentinel`. */
  readonly sentinels: readonly number[]
  /** The largest believable step: `step + perSecond · dt`. Absent where a step is ordinary (current, contacts). */
  readonly step?: { readonly step: number; readonly perSecond: number }
  /** Standard uncertainty of a cheap sensor of this kind, in the unit, when the configuration gives none. */
  readonly sd: number
  /** Relative part of that uncertainty (gain error), 0…1. */
  readonly gainSd: number
}

/** Digital thermometers answer −127 when unplugged, 85 after a brown-out, 127.94 on a bus fault (common practice). */
const THERMOMETER_FAILED = [-127, 85, 127.9375, 127.94] as const
/** Bare analogue and ultrasonic boards send full scale of their converters when a wire is off (common practice). */
const CONVERTER_RAILS = [4095, 65535] as const

const temperature: RoleSpec = {
  kind: 'number',
  unit: 'Cel',
  low: -60,
  high: 100,
  sentinels: THERMOMETER_FAILED,
  step: { step: 8, perSecond: 0.2 },
  sd: 0.5,
  gainSd: 0,
}
/** What somebody else expects of tonight: it may jump when it is made anew. */
const forecast: RoleSpec = {
  kind: 'number',
  unit: 'Cel',
  low: -60,
  high: 60,
  sentinels: THERMOMETER_FAILED,
  sd: 2,
  gainSd: 0,
}
const contact: RoleSpec = { kind: 'contact', unit: '', low: 0, high: 1, sentinels: [], sd: 0, gainSd: 0 }
const voltage: RoleSpec = {
  kind: 'number',
  unit: 'V',
  low: 0,
  high: 150,
  sentinels: CONVERTER_RAILS,
  sd: 0.02,
  gainSd: 0.005,
}
const current: RoleSpec = {
  kind: 'number',
  unit: 'A',
  low: -400,
  high: 400,
  sentinels: CONVERTER_RAILS,
  sd: 0.05,
  gainSd: 0.01,
}

export const ROLES = {
  'tank-level': {
    kind: 'number',
    unit: 'm',
    low: -0.1,
    high: 20,
    sentinels: CONVERTER_RAILS,
    step: { step: 0.06, perSecond: 0.002 },
    sd: 0.003,
    gainSd: 0.005,
  },
  'tank-probe-low': contact,
  'tank-probe-high': contact,
  'tank-probe-full': contact,
  'pump-current': current,
  'pump-voltage': voltage,
  'pump-flow': { kind: 'number', unit: 'l/s', low: 0, high: 20, sentinels: CONVERTER_RAILS, sd: 0.002, gainSd: 0.02 },
  'pump-volume': { kind: 'counter', unit: 'l', low: 0, high: 1e9, sentinels: [], sd: 0.5, gainSd: 0.02 },
  'well-level': {
    kind: 'number',
    unit: 'm',
    low: -1,
    high: 300,
    sentinels: CONVERTER_RAILS,
    sd: 0.05,
    gainSd: 0.005,
  },
  'battery-voltage': voltage,
  'battery-current': current,
  'battery-temperature': temperature,
  'panel-voltage': voltage,
  'panel-current': current,
  'air-temperature': temperature,
  humidity: { kind: 'number', unit: '%RH', low: 0, high: 105, sentinels: [], sd: 3, gainSd: 0 },
  'line-temperature': temperature,
  'box-temperature': temperature,
  'tank-temperature': temperature,
  'ground-temperature': temperature,
  'forecast-minimum': forecast,
  'house-pressure': { kind: 'number', unit: 'Pa', low: -1e4, high: 2e6, sentinels: [], sd: 3000, gainSd: 0.01 },
  'house-pump-current': current,
  occupied: contact,
  up: contact,
} as const satisfies Record<string, RoleSpec>

export type RoleId = keyof typeof ROLES

export const ROLE_IDS = Object.keys(ROLES) as readonly RoleId[]

/** Whether a word is the name of a role. */
export function isRole(word: string): word is RoleId {
  return Object.hasOwn(ROLES, word)
}

/**
 * A signal's key within its site: the role, or `role.label` where a site has several of one role
 * (`line-temperature.kitchen`). Series, charts and `temperature_role` use it.
 */
export type SignalKey = string

/** The role part of a signal key, or null when the word names no role. */
export function roleOfKey(key: SignalKey): RoleId | null {
  const dot = key.indexOf('.')
  const word = dot < 0 ? key : key.slice(0, dot)
  return isRole(word) ? word : null
}
