/**
 * The units that people may write, by what they measure. Factors come from the `convert` package where it knows the
 * unit; electrical and composite units are ours (definitions of the SI). tests/published/units.test.ts holds them
 * against NIST SP 811.
 */
import { convert, type Length, type Power, type Pressure, type Time, type Volume } from 'convert'

export const DIMENSIONS = [
  'length',
  'volume',
  'flow',
  'voltage',
  'current',
  'charge',
  'power',
  'energy',
  'energy-per-volume',
  'temperature',
  'temperature-difference',
  'humidity',
  'pressure',
  'duration',
  'angle',
  'share',
] as const
export type Dimension = (typeof DIMENSIONS)[number]

/** SI value = number · factor + offset. */
export type Unit = {
  /** As we write it; the first of each dimension is the one the program keeps. */
  readonly name: string
  readonly aliases: readonly string[]
  readonly factor: number
  readonly offset: number
}

const unit = (name: string, factor: number, ...aliases: string[]): Unit => ({ name, aliases, factor, offset: 0 })

const length = (name: Length, ...aliases: string[]): Unit => unit(name, convert(1, name).to('m'), ...aliases)
const volume = (name: Volume, ...aliases: string[]): Unit => unit(name, tidy(convert(1, name).to('l')), ...aliases)
const duration = (name: Time, ...aliases: string[]): Unit => unit(name, tidy(convert(1, name).to('s')), ...aliases)
const pressure = (name: Pressure, ...aliases: string[]): Unit => unit(name, tidy(convert(1, name).to('Pa')), ...aliases)
const power = (name: Power, ...aliases: string[]): Unit => unit(name, tidy(convert(1, name).to('W')), ...aliases)

const GALLON_L = tidy(convert(1, 'gal').to('l'))

/** Binary fractions leave dust (54.864000000000004); twelve digits are far more than any figure here carries. */
export function tidy(value: number): number {
  const rounded = Number(value.toPrecision(12))
  return Math.abs(rounded) < 1e-12 ? 0 : rounded
}

export const UNITS: Readonly<Record<Dimension, readonly Unit[]>> = {
  length: [
    length('m', 'meter', 'meters', 'metre', 'metres'),
    length('cm'),
    length('mm'),
    length('km'),
    length('ft', 'feet', 'foot'),
    length('in', 'inch', 'inches'),
    length('yd', 'yard', 'yards'),
  ],
  volume: [
    volume('l', 'L', 'liter', 'liters', 'litre', 'litres'),
    volume('ml', 'mL'),
    volume('m3', 'm³'),
    unit('gal', GALLON_L, 'gallon', 'gallons', 'US gal', 'US gallon', 'US gallons'),
    unit('imp gal', tidy(convert(1, 'imp gal').to('l')), 'imperial gallon', 'imperial gallons'),
    volume('ft3', 'ft³', 'cu ft'),
    volume('qt', 'quart', 'quarts'),
  ],
  flow: [
    unit('l/s', 1, 'L/s'),
    unit('l/min', 1 / 60, 'L/min'),
    unit('l/h', 1 / 3600, 'L/h'),
    unit('m3/h', 1000 / 3600, 'm³/h'),
    unit('m3/s', 1000, 'm³/s'),
    unit('gpm', GALLON_L / 60, 'gal/min'),
    unit('gph', GALLON_L / 3600, 'gal/h'),
  ],
  voltage: [unit('V', 1, 'volt', 'volts'), unit('mV', 1e-3)],
  current: [unit('A', 1, 'amp', 'amps', 'ampere', 'amperes'), unit('mA', 1e-3)],
  charge: [unit('Ah', 1), unit('mAh', 1e-3)],
  power: [power('W', 'watt', 'watts'), power('kW'), power('hp', 'horsepower')],
  energy: [unit('Wh', 1), unit('kWh', 1000), unit('J', 1 / 3600), unit('kJ', 1 / 3.6)],
  'energy-per-volume': [unit('Wh/l', 1, 'Wh/L'), unit('Wh/gal', 1 / GALLON_L), unit('kWh/m3', 1, 'kWh/m³')],
  temperature: [
    unit('Cel', 1, 'degC', '°C', 'C'),
    { name: 'degF', aliases: ['°F', 'F'], factor: 5 / 9, offset: -160 / 9 },
    { name: 'K', aliases: [], factor: 1, offset: -273.15 },
  ],
  'temperature-difference': [unit('Cel', 1, 'degC', '°C', 'C', 'K'), unit('degF', 5 / 9, '°F', 'F')],
  humidity: [unit('%RH', 1, '%')],
  pressure: [pressure('Pa'), pressure('kPa'), pressure('hPa'), pressure('bar'), pressure('mbar'), pressure('psi')],
  duration: [
    duration('s', 'sec', 'second', 'seconds'),
    duration('ms'),
    duration('min', 'minute', 'minutes'),
    duration('h', 'hr', 'hour', 'hours'),
    duration('d', 'day', 'days'),
    duration('week', 'weeks'),
  ],
  angle: [unit('deg', 1, '°', 'degree', 'degrees'), unit('rad', 180 / Math.PI)],
  share: [unit('%', 0.01)],
}

/** The unit of that spelling, or null. Case counts: mV is not MV. */
export function findUnit(dimension: Dimension, word: string): Unit | null {
  return UNITS[dimension].find((entry) => entry.name === word || entry.aliases.includes(word)) ?? null
}

/** What else that word measures, so that an error can say "a voltage, not a length". */
export function dimensionOf(word: string): Dimension | null {
  return DIMENSIONS.find((dimension) => findUnit(dimension, word) !== null) ?? null
}

/** The unit names to write, as a person reads a list. */
export function unitNames(dimension: Dimension): string[] {
  return UNITS[dimension].map((entry) => entry.name)
}

/** Value of `number unit` in the dimension's SI unit (energy in Wh, charge in Ah, volume in l, angle in deg). */
export function toSi(value: number, entry: Unit): number {
  return tidy(value * entry.factor + entry.offset)
}
