/**
 * A quantity as people write it: a number and its unit, `"180 ft"`, `"-4 degF"`, or a sum of such pairs,
 * `"5 ft 6 in"`, `"1 h 30 min"`, fractions too, `"3/4 in"`. There is no default unit: a bare number could be feet or metres, and a tank that
 * is wrong by a factor of three drowns or dries somebody.
 */
import { shown } from './finding.js'
import { type Dimension, dimensionOf, findUnit, tidy, toSi, UNITS, type Unit, unitNames } from './units.js'

export type Read =
  | { readonly ok: true; readonly value: number }
  | { readonly ok: false; readonly message: string; readonly expected: string; readonly hint: string | null }

/** Inclusive limits in the SI unit. */
export type Bounds = { readonly min?: number; readonly max?: number; readonly above?: number }

/** Decimals, or the fractions of a plumber: `3/4`, `1 1/2`. */
const NUMBER = String.raw`[+-]?(?:(?:\d+ +)?\d+/\d+|(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)`
const UNIT = '(?:US|imp|imperial|cu) [A-Za-z]+|[A-Za-z°%][A-Za-z0-9°%³/]*'
const PAIR = new RegExp(String.raw`\s*(${NUMBER})\s*(${UNIT})(?![A-Za-z0-9°%³/])\s*`, 'y')

/** A number and unit → SI. The failure names what was expected, with an example. */
export function readQuantity(input: unknown, dimension: Dimension, bounds: Bounds = {}): Read {
  const expected = describe(dimension)
  if (input === undefined) return { ok: false, message: 'is needed', expected, hint: null }
  if (typeof input === 'number') {
    const example = `"${input} ${unitNames(dimension)[0]}"`
    return { ok: false, message: 'needs a unit', expected, hint: `write for example ${example}, with the quotes` }
  }
  if (typeof input !== 'string') return { ok: false, message: `is no ${words(dimension)}`, expected, hint: null }
  const sum = readPairs(input.trim(), dimension)
  if ('message' in sum) return { ok: false, expected, ...sum }
  return within(sum.value, bounds, sum.unit)
}

type Failure = { readonly message: string; readonly hint: string | null }

/** The sum in SI, and the unit that it was written in (of several, the first). */
type Sum = { readonly value: number; readonly unit: Unit }

/** What people write in two units at once. */
const SUMMED: readonly Dimension[] = ['length', 'duration', 'angle']

function readPairs(text: string, dimension: Dimension): Sum | Failure {
  if (new RegExp(`^${NUMBER}$`).test(text)) return { message: 'needs a unit', hint: null }
  if (/^[+-]?[\d.]*\d,\d/.test(text)) {
    return { message: 'has a comma in its number', hint: 'a point marks decimals; thousands are not marked' }
  }
  let at = 0
  let sum = 0
  let unit: Unit | null = null
  while (at < text.length) {
    PAIR.lastIndex = at
    const match = PAIR.exec(text)
    if (match === null) return { message: `is no ${words(dimension)}`, hint: 'a number, then its unit' }
    const entry = unitOf(match[2] ?? '', dimension)
    if ('message' in entry) return entry
    const number = match[1] ?? ''
    if (unit !== null && (!SUMMED.includes(dimension) || /^[+-]/.test(number))) {
      return { message: `is no ${words(dimension)}`, hint: 'one number and one unit' }
    }
    // Of "-5 ft 6 in" the sign belongs to the whole.
    sum += unit !== null && text.startsWith('-') ? -toSi(readNumber(number), entry) : toSi(readNumber(number), entry)
    unit ??= entry
    at = PAIR.lastIndex
  }
  if (unit === null) return { message: 'is empty', hint: null }
  return Number.isFinite(sum) ? { value: tidy(sum), unit } : { message: 'is no finite number', hint: null }
}

function readNumber(text: string): number {
  const fraction = /^([+-]?)(?:(\d+) +)?(\d+)\/(\d+)$/.exec(text)
  if (fraction === null) return Number(text)
  const [, sign, whole = '0', over, under] = fraction
  return (sign === '-' ? -1 : 1) * (Number(whole) + Number(over) / Number(under))
}

function unitOf(word: string, dimension: Dimension): Unit | Failure {
  const entry = findUnit(dimension, word.trim())
  if (entry !== null) return entry
  const other = dimensionOf(word.trim())
  if (other !== null) {
    return { message: `has the unit of ${named(other)}, where ${named(dimension)} is due`, hint: null }
  }
  const lower = word.trim().toLowerCase()
  const near = UNITS[dimension].find((known) => [known.name, ...known.aliases].some((n) => n.toLowerCase() === lower))
  return {
    message: `has the unknown unit ${shown(word.trim())}`,
    hint: near === undefined ? null : `did you mean "${near.name}"? capitals count`,
  }
}

/** Limits are told in the unit that the person used. */
function within(value: number, bounds: Bounds, unit: Unit): Read {
  const { min, max, above } = bounds
  const tooLow = (min !== undefined && value < min) || (above !== undefined && value <= above)
  const tooHigh = max !== undefined && value > max
  if (!tooLow && !tooHigh) return { ok: true, value }
  const limit = (si: number): string => `${Number(((si - unit.offset) / unit.factor).toPrecision(6))} ${unit.name}`
  const parts = [
    above === undefined ? '' : `more than ${limit(above)}`,
    min === undefined ? '' : `at least ${limit(min)}`,
    max === undefined ? '' : `at most ${limit(max)}`,
  ]
  return {
    ok: false,
    message: tooLow ? 'is too small' : 'is too large',
    expected: parts.filter((part) => part !== '').join(' and '),
    hint: null,
  }
}

/** `a length with its unit (m, cm, ft, …)`. */
export function describe(dimension: Dimension): string {
  return `${named(dimension)} with its unit (${unitNames(dimension).join(', ')})`
}

/** With its article. */
function named(dimension: Dimension): string {
  return `${/^[aeiou]/.test(dimension) ? 'an' : 'a'} ${words(dimension)}`
}

function words(dimension: Dimension): string {
  return dimension.replaceAll('-', ' ')
}
