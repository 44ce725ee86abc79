/**
 * The diagnosis table: what each cause makes of each reading. Bands are the ranges of the trade's table for small
 * direct-current pumps that displace water, relative to the pump's own steady watts [common practice unless a site's
 * own figures stand in their place]. Causes of one group look the same from outside: they are named together.
 */
import type { Band } from './likelihood.js'
import type { NumberReading, SignReading } from './readings.js'

export const ROW_IDS = [
  'well-dry',
  'prime-lost',
  'water-lost',
  'drawn',
  'level-still',
  'probe-fouled',
  'blocked',
  'iced',
  'locked',
  'cable-damaged',
  'line-solid',
  'worn',
  'clogged',
  'holed',
  'weak-battery',
  'leak-after',
  'control-on',
  'circuit-open',
  'cut-off',
  'call-stuck',
  'current-unseen',
] as const
export type RowId = (typeof ROW_IDS)[number]

/** What cannot be told apart by what boards measure. */
export const GROUP_IDS = ['no-water', 'less-water', 'no-current'] as const
export type GroupId = (typeof GROUP_IDS)[number]

export type Row = {
  readonly id: RowId
  readonly group: GroupId | null
  /** Decimal logarithm of how common it is beside the others. */
  readonly common: number
  readonly numbers: Partial<Record<NumberReading, Band>>
  /** How often the sign is seen under this cause. */
  readonly signs: Partial<Record<SignReading, number>>
  /** For people, a whole sentence. */
  readonly says: string
}

const LIGHT: Band = [0.25, 0.78]
const AS_USUAL: Band = [0.85, 1.12]
const NO_WATER: Band = [-0.15, 0.15]
const WATER: Band = [0.75, 1.1]
const WARM: Band = [3, 35]

export const ROWS: readonly Row[] = [
  {
    id: 'well-dry',
    group: 'no-water',
    common: 0,
    numbers: { power: LIGHT, rise: NO_WATER, hunt: [0.3, 1.3], volts: [1, 1.25] },
    signs: { 'from-start': 0.15, 'crept-up': 0.7, 'ran-dry-before': 0.6 },
    says: 'The well is pumped down to the pump.',
  },
  {
    id: 'prime-lost',
    group: 'no-water',
    common: -0.3,
    numbers: { power: LIGHT, rise: NO_WATER, volts: [1, 1.25] },
    signs: { 'from-start': 0.8, 'crept-up': 0.03, 'ran-dry-before': 0.15 },
    says: 'The pump has lost its prime, or its coupling is broken: from outside they look the same.',
  },
  {
    id: 'water-lost',
    group: null,
    common: 0,
    numbers: { power: [0.8, 1.1], rise: NO_WATER, rate: [0, 0.4] },
    signs: { 'level-frozen': 0.02 },
    says: 'A broken or split pipe, or an open drain, between pump and tank.',
  },
  {
    id: 'drawn',
    group: null,
    common: 0,
    numbers: { power: AS_USUAL, rise: [-1, 0.75], rate: [0.85, 1.15] },
    signs: { 'nobody-there': 0.05, 'level-frozen': 0.02 },
    says: 'Water is used as fast as it comes.',
  },
  {
    id: 'level-still',
    group: null,
    common: -0.3,
    numbers: { power: AS_USUAL, rise: [-0.02, 0.02] },
    signs: { 'level-frozen': 0.9 },
    says: 'The level sensor stands still: compare it with the tank.',
  },
  {
    id: 'probe-fouled',
    group: null,
    common: -0.2,
    numbers: { power: AS_USUAL },
    signs: {},
    says: 'The low probe is fouled or its wire is off: then the high one gets wet at the end of the usual fill.',
  },
  {
    id: 'blocked',
    group: null,
    common: 0,
    numbers: { power: [1.2, 2.2], rise: [-0.15, 0.5], cold: WARM },
    signs: {},
    says: 'A shut valve, a clogged filter or a blocked line.',
  },
  {
    id: 'iced',
    group: null,
    common: -0.3,
    numbers: { power: [1.2, 2.2], rise: NO_WATER, cold: [-25, 1.5] },
    signs: {},
    says: 'Ice in the line: a line is near or below freezing.',
  },
  {
    id: 'locked',
    group: null,
    common: 0,
    numbers: { power: [1.9, 4], rise: NO_WATER, volts: [0.85, 1.1] },
    signs: { 'jammed-before': 0.6, 'ran-dry-before': 0.4 },
    says: 'The rotor is held: sand, wear, a stone, or swelling in warm water.',
  },
  {
    id: 'cable-damaged',
    group: null,
    common: -0.5,
    numbers: { power: [1.9, 4] },
    signs: { 'jammed-before': 0.3 },
    says: 'A damaged cable or splice.',
  },
  {
    id: 'line-solid',
    group: null,
    common: -0.6,
    numbers: { power: [1.9, 4], rise: NO_WATER, cold: [-25, 1.5] },
    signs: {},
    says: 'A line frozen or shut so hard that the pump cannot move.',
  },
  {
    id: 'worn',
    group: 'less-water',
    common: 0,
    numbers: { power: [0.75, 1.03], rise: [0.15, 0.9], rate: [0.2, 0.9] },
    signs: {},
    says: 'The pump is worn.',
  },
  {
    id: 'clogged',
    group: 'less-water',
    common: -0.2,
    numbers: { power: [0.7, 1.2], rise: [0.1, 0.9], rate: [0.1, 0.9] },
    signs: {},
    says: 'A screen or filter is clogged.',
  },
  {
    id: 'holed',
    group: 'less-water',
    common: 0,
    numbers: { power: [0.8, 1.05], rise: [0.05, 0.9], rate: [0.05, 0.9] },
    signs: {},
    says: 'The pipe between pump and tank has a hole or a joint has opened.',
  },
  {
    id: 'weak-battery',
    group: null,
    common: -0.2,
    numbers: { power: [0.6, 1.05], rise: [0.3, 0.95], rate: [0.4, 1], volts: [0.9, 1.04] },
    signs: { 'was-low': 0.7 },
    says: 'The battery is low, and a low voltage turns the pump more slowly.',
  },
  {
    id: 'leak-after',
    group: null,
    common: -0.3,
    numbers: { power: AS_USUAL, rise: [-1, 0.75], rate: [0.3, 1.1] },
    signs: { 'nobody-there': 0.5 },
    says: 'A leak or an open tap takes water from the tank or its line.',
  },
  {
    id: 'control-on',
    group: null,
    common: -0.3,
    numbers: { power: AS_USUAL, rise: WATER },
    signs: { unasked: 0.5 },
    says: 'The control does not see that the tank is full, or somebody runs the pump by hand.',
  },
  {
    id: 'circuit-open',
    group: 'no-current',
    common: 0,
    numbers: { volts: [1.03, 1.25] },
    signs: { 'jammed-before': 0.3, 'tank-rises': 0.01, 'was-low': 0.1 },
    says: 'A blown fuse, an open relay, or a broken wire.',
  },
  {
    id: 'cut-off',
    group: 'no-current',
    common: -0.3,
    numbers: { volts: [0.9, 1.06] },
    signs: { 'was-low': 0.8, 'tank-rises': 0.01 },
    says: 'The battery protection or the controller has cut the pump off and waits for a higher voltage.',
  },
  {
    id: 'call-stuck',
    group: 'no-current',
    common: -0.2,
    numbers: { volts: [1.03, 1.25] },
    signs: { 'tank-rises': 0.01, 'jammed-before': 0.02, 'was-low': 0.1 },
    says: 'A float, probe or pressure switch is stuck off, or the controller is switched off or waiting.',
  },
  {
    id: 'current-unseen',
    group: 'no-current',
    common: -0.6,
    numbers: {},
    signs: { 'tank-rises': 0.8, 'jammed-before': 0.02 },
    says: 'The current sensor has failed or come off: look whether the tank rises.',
  },
]

/** How often each sign is seen in general. */
export const GENERALLY: Readonly<Record<SignReading, number>> = {
  'from-start': 0.4,
  'crept-up': 0.2,
  'level-frozen': 0.1,
  'nobody-there': 0.5,
  'jammed-before': 0.1,
  'ran-dry-before': 0.3,
  unasked: 0.1,
  'tank-rises': 0.2,
  'was-low': 0.2,
}
