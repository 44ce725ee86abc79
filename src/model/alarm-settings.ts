/**
 * What can be set of each alarm, by name, with its default in SI: the one table from which the configuration checks
 * names and units, the judge takes its limits, and docs/alarms.md is written. Names are those of the configuration
 * file; the checked value stands under the same name in `AlarmSettings.numbers`.
 */
import type { AlarmId, Priority } from './alarm.js'

/** `duration` in s, `ratio` as 0…1 or a factor (a bare number in the configuration), `count` in pieces. */
export type SettingKind = 'duration' | 'ratio' | 'count' | 'temperature' | 'volume'

export type SettingSpec = {
  readonly kind: SettingKind
  readonly default: number
  readonly meaning: string
}

export type AlarmSpec = {
  readonly priority: Priority
  /** The condition must hold this long, without a break, before the alarm is raised. */
  readonly onDelayS: number
  /** It must be gone this long before the alarm returns to normal. */
  readonly offDelayS: number
  readonly numbers: Readonly<Record<string, SettingSpec>>
}

const none = {} as const

export const ALARM_SPECS = {
  'dry-well': {
    priority: 'high',
    onDelayS: 60,
    offDelayS: 600,
    numbers: {
      light_ratio: {
        kind: 'ratio',
        default: 0.8,
        meaning: 'Pump current below this share of its usual, at the present voltage, is light.',
      },
      samples: { kind: 'count', default: 3, meaning: 'Light readings needed before it is believed.' },
      from_start: {
        kind: 'duration',
        default: 180,
        meaning: 'A run that is light from its start must be so this long: a pipe that drained fills first.',
      },
      stop_counts_for: {
        kind: 'duration',
        default: 600,
        meaning: 'A run that its own control ended as dry is told if it ended no longer ago than this.',
      },
    },
  },
  'pump-stalled': {
    priority: 'critical',
    onDelayS: 10,
    offDelayS: 60,
    numbers: {
      heavy_ratio: {
        kind: 'ratio',
        default: 2,
        meaning: 'Pump current at or above this many times its usual is a rotor that does not turn.',
      },
      samples: { kind: 'count', default: 2, meaning: 'Heavy readings needed, so that one reading of inrush is none.' },
      tries: {
        kind: 'count',
        default: 2,
        meaning: 'This many short heavy starts within 10 min mean a protector that trips and tries again.',
      },
    },
  },
  'pump-no-start': { priority: 'high', onDelayS: 720, offDelayS: 60, numbers: none },
  'no-rise': {
    priority: 'high',
    onDelayS: 400,
    offDelayS: 120,
    numbers: {
      low_ratio: {
        kind: 'ratio',
        default: 0.75,
        meaning: 'Below this share of the usual current it is the story of a dry well instead.',
      },
      blocked_ratio: {
        kind: 'ratio',
        default: 1.25,
        meaning:
          'From this many times the usual current on, the pump is likely pushing against something shut or frozen.',
      },
      stalled_ratio: {
        kind: 'ratio',
        default: 2,
        meaning: 'From this many times the usual current on, it is the story of a stalled pump instead.',
      },
    },
  },
  'fill-long': {
    priority: 'medium',
    onDelayS: 30,
    offDelayS: 60,
    numbers: {
      factor: {
        kind: 'ratio',
        default: 2,
        meaning: 'A fill may take this many times what it should, where the rate of the pump cannot be told from draw.',
      },
      slow_factor: { kind: 'ratio', default: 1.3, meaning: 'The same where the pump is seen to deliver too little.' },
      slow_rate: {
        kind: 'ratio',
        default: 0.7,
        meaning: 'Too little: below this share of the usual rate of the pump.',
      },
      extra: { kind: 'duration', default: 600, meaning: 'And this much on top.' },
    },
  },
  overfill: { priority: 'critical', onDelayS: 90, offDelayS: 120, numbers: none },
  leak: { priority: 'medium', onDelayS: 0, offDelayS: 600, numbers: none },
  'tank-low': {
    priority: 'high',
    onDelayS: 45,
    offDelayS: 300,
    numbers: {
      deadband: {
        kind: 'ratio',
        default: 0.05,
        meaning: 'It ends when this share of the reserve stands above the reserve again.',
      },
    },
  },
  'battery-low': {
    priority: 'high',
    onDelayS: 60,
    offDelayS: 600,
    numbers: {
      deadband: {
        kind: 'ratio',
        default: 0.01,
        meaning: 'It ends when the voltage stands this share of the limit above the limit.',
      },
      time_to_cut_off: {
        kind: 'duration',
        default: 10_800,
        meaning: 'A projected time to cut-off shorter than this is too short.',
      },
      stop_counts_for: {
        kind: 'duration',
        default: 1_800,
        meaning: 'A run that lost its power at a low voltage is told if it ended no longer ago than this.',
      },
    },
  },
  'battery-sag': { priority: 'medium', onDelayS: 0, offDelayS: 600, numbers: none },
  'battery-cold-charge': { priority: 'high', onDelayS: 60, offDelayS: 600, numbers: none },
  'battery-not-full': { priority: 'low', onDelayS: 0, offDelayS: 600, numbers: none },
  'array-dark': { priority: 'medium', onDelayS: 0, offDelayS: 600, numbers: none },
  'freeze-risk': { priority: 'high', onDelayS: 60, offDelayS: 3_600, numbers: none },
  freezing: {
    priority: 'critical',
    onDelayS: 60,
    offDelayS: 900,
    numbers: {
      thawed: { kind: 'temperature', default: 1, meaning: 'It ends when the line is at least this warm again.' },
    },
  },
  'board-silent': {
    priority: 'medium',
    onDelayS: 0,
    offDelayS: 60,
    numbers: {
      intervals: { kind: 'count', default: 5, meaning: 'Expected intervals without a word from the board.' },
      at_least: { kind: 'duration', default: 300, meaning: 'But never sooner than this.' },
    },
  },
  'site-silent': {
    priority: 'high',
    onDelayS: 0,
    offDelayS: 60,
    numbers: {
      at_least: { kind: 'duration', default: 900, meaning: 'Nothing from any board for this long.' },
      outage_factor: {
        kind: 'ratio',
        default: 2,
        meaning: 'Or this many times the longest outage of the last 30 days that healed itself, where that is more.',
      },
      at_most: { kind: 'duration', default: 604_800, meaning: 'But never later than this.' },
    },
  },
  'sensor-suspect': { priority: 'medium', onDelayS: 600, offDelayS: 600, numbers: none },
  'clock-suspect': { priority: 'medium', onDelayS: 0, offDelayS: 3_600, numbers: none },
  'yield-falling': { priority: 'low', onDelayS: 0, offDelayS: 0, numbers: none },
  'energy-rising': { priority: 'low', onDelayS: 0, offDelayS: 0, numbers: none },
  'house-pump-cycling': { priority: 'medium', onDelayS: 600, offDelayS: 1_800, numbers: none },
  'stale-water': { priority: 'low', onDelayS: 0, offDelayS: 0, numbers: none },
  'store-failing': { priority: 'critical', onDelayS: 10, offDelayS: 60, numbers: none },
  'telling-failing': { priority: 'high', onDelayS: 0, offDelayS: 60, numbers: none },
} as const satisfies Record<AlarmId, AlarmSpec>

/** The numbers of one alarm after checking: a value for every name. */
export type AlarmNumbers<I extends AlarmId> = {
  readonly [N in keyof (typeof ALARM_SPECS)[I]['numbers']]: number
}
