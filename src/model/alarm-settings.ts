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
  leak: {
    priority: 'medium',
    onDelayS: 0,
    offDelayS: 600,
    numbers: {
      least: {
        kind: 'volume',
        default: 2,
        meaning: 'Lost in an hour; less is taken for a drip, evaporation or the sensor.',
      },
      big_for: {
        kind: 'duration',
        default: 1_200,
        meaning: 'More than 200 l in an hour without a pause for so long, in the quiet hours or with nobody there.',
      },
      big_by_day: {
        kind: 'duration',
        default: 7_200,
        meaning:
          'The same by day with people there; never less than 1.5 times the longest such draw that ended by itself.',
      },
      drawless: {
        kind: 'duration',
        default: 72_000,
        meaning: 'A steady fall by day with people there counts when nobody has drawn for so long.',
      },
      after_opening: {
        kind: 'duration',
        default: 604_800,
        meaning: 'So long after a place is opened after winter, flushing and filling are no leak.',
      },
    },
  },
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
  'battery-sag': {
    priority: 'medium',
    onDelayS: 0,
    offDelayS: 600,
    numbers: {
      growth: {
        kind: 'ratio',
        default: 1.5,
        meaning: 'The drop per ampere, median of three starts, must be this many times its usual at like temperature.',
      },
      spreads: { kind: 'count', default: 3, meaning: 'And this many of its own standard deviations above the usual.' },
    },
  },
  'battery-cold-charge': { priority: 'high', onDelayS: 60, offDelayS: 3_600, numbers: none },
  'battery-not-full': {
    priority: 'low',
    onDelayS: 0,
    offDelayS: 600,
    numbers: {
      days: {
        kind: 'count',
        default: 5,
        meaning: 'Days, of those that were watched, without a full lead-acid battery.',
      },
      lithium_days: {
        kind: 'count',
        default: 14,
        meaning: 'The same for a lithium battery, which does not suffer from it.',
      },
    },
  },
  'array-dark': {
    priority: 'medium',
    onDelayS: 0,
    offDelayS: 600,
    numbers: {
      sun: {
        kind: 'duration',
        default: 3_600,
        meaning:
          "Hours of the day that count must be worth this long of the array's full rated power under a clear sky.",
      },
      dark_ratio: {
        kind: 'ratio',
        default: 0.03,
        meaning: "Below this share of a clear sky's harvest they brought nothing; told at once.",
      },
      little_ratio: {
        kind: 'ratio',
        default: 0.12,
        meaning:
          'Below this share they brought too little; told 2 h after solar noon. Never above half of the darkest day that was seen here, nor half of what thick cloud brings.',
      },
      recovered: {
        kind: 'ratio',
        default: 0.2,
        meaning: 'It ends when half an hour brought this share, or the battery is full.',
      },
    },
  },
  'freeze-risk': {
    priority: 'high',
    onDelayS: 60,
    offDelayS: 172_800,
    numbers: {
      chance: {
        kind: 'ratio',
        default: 0.07,
        meaning: 'A line that could be at 0 °C within `ahead`, and comes there by morning with at least this chance.',
      },
      chance_likely: {
        kind: 'ratio',
        default: 0.5,
        meaning: 'The same while there is more time, from two hours after sunset on.',
      },
      chance_early: {
        kind: 'ratio',
        default: 0.25,
        meaning:
          'The same before two hours after sunset, when there is only a first idea of the night, and while its method has fewer than 8 nights to show.',
      },
      chance_to_end: {
        kind: 'ratio',
        default: 0.05,
        meaning:
          'It ends when that chance has been below this for the whole off-delay: a mild night or two end no cold spell.',
      },
      ahead: {
        kind: 'duration',
        default: 16_200,
        meaning:
          'What is possible but not likely is told when the line, in a night far colder than expected, could be at 0 °C within this time.',
      },
      falls_within: {
        kind: 'duration',
        default: 10_800,
        meaning: 'Where nothing is known of the night: a line below 3 °C that falls to 0 °C within this time.',
      },
      depth_share: {
        kind: 'ratio',
        default: 0.9,
        meaning: 'A buried line is threatened when the frost is this share of its depth deep.',
      },
    },
  },
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
  'clock-suspect': { priority: 'medium', onDelayS: 0, offDelayS: 300, numbers: none },
  'yield-falling': {
    priority: 'low',
    onDelayS: 0,
    offDelayS: 0,
    numbers: {
      least: {
        kind: 'ratio',
        default: 0.05,
        meaning: 'A smaller loss of yield is not told; half of it ends what was told.',
      },
    },
  },
  'energy-rising': {
    priority: 'low',
    onDelayS: 0,
    offDelayS: 0,
    numbers: {
      least: {
        kind: 'ratio',
        default: 0.05,
        meaning: 'A smaller rise of energy is not told; half of it ends what was told.',
      },
    },
  },
  'house-pump-cycling': {
    priority: 'medium',
    onDelayS: 60,
    offDelayS: 1_800,
    numbers: {
      starts_an_hour: {
        kind: 'count',
        default: 20,
        meaning: 'More starts than this in an hour are too many, if they are short.',
      },
      short_run: { kind: 'duration', default: 20, meaning: 'A run is short below this, while nothing is learned.' },
      short_share: { kind: 'ratio', default: 0.5, meaning: 'A run is short below this share of the usual one.' },
      regular_starts: {
        kind: 'count',
        default: 8,
        meaning:
          'Starts in a row with even pauses, 6 at least, before they are told: people may draw evenly for a while.',
      },
      regular_for: { kind: 'duration', default: 1_200, meaning: 'And for no less than this.' },
      runs_on: {
        kind: 'duration',
        default: 1_500,
        meaning:
          'A run without end is told after this; after five times this while a pressure is measured that serves.',
      },
      no_pressure_for: {
        kind: 'duration',
        default: 600,
        meaning: 'A run is told after this where the pressure is gone or far too high.',
      },
    },
  },
  'stale-water': {
    priority: 'low',
    onDelayS: 900,
    offDelayS: 3_600,
    numbers: {
      turnover: {
        kind: 'duration',
        default: 432_000,
        meaning: 'The stored water should be drawn once within this (guidance of water utilities: 3 to 5 days).',
      },
      usual_factor: {
        kind: 'ratio',
        default: 2,
        meaning:
          'And it must have stood this many times longer than is usual here: a tank that is large for its use is not told each day.',
      },
    },
  },
  'store-failing': { priority: 'critical', onDelayS: 10, offDelayS: 60, numbers: none },
  'telling-failing': { priority: 'high', onDelayS: 0, offDelayS: 60, numbers: none },
} as const satisfies Record<AlarmId, AlarmSpec>

/** The numbers of one alarm after checking: a value for every name. */
export type AlarmNumbers<I extends AlarmId> = {
  readonly [N in keyof (typeof ALARM_SPECS)[I]['numbers']]: number
}
