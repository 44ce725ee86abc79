/** From the `boards` section to settings: defaults, units of the role, calibration points in SI. */
import { payloadUnit, payloadUnitNames } from '../model/payload-units.js'
import { ROLES, type RoleId, type RoleSpec, roleOfKey } from '../model/roles.js'
import type { BoardSettings, SignalSettings } from '../model/settings.js'
import { error, type Issue, type Path, shown } from './finding.js'
import { meant } from './nearest.js'
import { readQuantity } from './quantity.js'
import type { BoardsInput, SignalInput } from './schema-boards.js'
import type { Dimension } from './units.js'

const DIMENSION_OF_UNIT: Readonly<Record<string, Dimension>> = {
  m: 'length',
  A: 'current',
  V: 'voltage',
  'l/s': 'flow',
  l: 'volume',
  Cel: 'temperature',
  '%RH': 'humidity',
  Pa: 'pressure',
}

/** A stated ± is the half-width of a rectangular distribution (GUM, JCGM 100:2008, 4.3.7). */
const RECTANGULAR = 1 / Math.sqrt(3)

/** Boards of a site, and what is wrong with them. `site` is null where the site's id could not be read. */
export function buildBoards(boards: BoardsInput, site: string | null): { boards: BoardSettings[]; issues: Issue[] } {
  const issues: Issue[] = []
  const built = Object.entries(boards).map(([id, board]): BoardSettings => {
    const path = ['boards', id, 'signals']
    const signals = Object.entries(board.signals).map(([key, given]) => buildSignal(key, given, [...path, key], issues))
    return {
      id,
      topic: board.topic ?? `water/${site ?? 'site'}/${id}`,
      expectEveryS: board.expect_every,
      signals: signals.filter((signal) => signal !== null),
    }
  })
  return { boards: built, issues }
}

const PLAIN: SignalInput = { decode: 'senml', sentinels: [] }

function buildSignal(key: string, given: string | SignalInput, path: Path, issues: Issue[]): SignalSettings | null {
  const role = roleOfKey(key)
  if (role === null) return null
  const input = typeof given === 'string' ? { ...PLAIN, name: given } : given
  const spec: RoleSpec = ROLES[role]
  issues.push(...formIssues(input, spec, path))
  const unit = readUnit(input, spec, path, issues)
  const limits = readLimits(input, role, path, issues)
  return {
    key,
    role,
    name: input.name ?? role,
    topic: input.topic ?? null,
    decode: input.decode,
    pointer: input.pointer ?? null,
    unit: input.table === undefined ? unit : null,
    scale: input.scale ?? 1,
    offset: input.offset ?? 0,
    table: input.table === undefined ? null : readTable(input.table, unit, spec, path, issues),
    trueWhen: trueWhen(input.true_when),
    ...limits,
    sentinels: input.sentinels,
  }
}

/** Keys that make sense only with some form of payload or some kind of role. */
function formIssues(input: SignalInput, spec: RoleSpec, path: Path): Issue[] {
  const issues: Issue[] = []
  const refuse = (name: keyof SignalInput, message: string, expected: string): void => {
    if (input[name] === undefined) return
    issues.push(error([...path, name], message, { found: shown(input[name]), expected, at: 'key' }))
  }
  if (input.decode !== 'json') refuse('pointer', 'is for JSON payloads', 'decode: json beside it')
  if (input.decode === 'json' && input.pointer === undefined) {
    const expected = 'a JSON pointer such as "/level" (RFC 6901)'
    issues.push(error([...path, 'pointer'], 'is needed with decode: json', { expected }))
  }
  if (spec.kind === 'contact') {
    for (const name of ['unit', 'scale', 'offset', 'table', 'low', 'high', 'accuracy'] as const) {
      refuse(name, 'has no meaning for a contact', 'true_when, or nothing')
    }
  } else refuse('true_when', 'has no meaning for a measured quantity', 'a contact such as tank-probe-low')
  if (input.table !== undefined) {
    for (const name of ['scale', 'offset'] as const) refuse(name, 'and a table exclude each other', 'one of the two')
  }
  if (input.scale === 0) issues.push(error([...path, 'scale'], 'makes every value the same', { found: '0' }))
  return issues
}

function readUnit(input: SignalInput, spec: RoleSpec, path: Path, issues: Issue[]): string | null {
  if (input.unit === undefined || spec.kind === 'contact') return null
  if (payloadUnit(spec.unit, input.unit) !== null) return input.unit
  const names = payloadUnitNames(spec.unit)
  issues.push(
    error([...path, 'unit'], 'does not fit this role', {
      found: shown(input.unit),
      expected: `one of ${names.join(', ')}`,
      hint: meant(input.unit, names),
    }),
  )
  return null
}

type Limits = Pick<SignalSettings, 'low' | 'high' | 'sd'>

function readLimits(input: SignalInput, role: RoleId, path: Path, issues: Issue[]): Limits {
  const spec: RoleSpec = ROLES[role]
  const dimension = DIMENSION_OF_UNIT[spec.unit]
  if (dimension === undefined) return { low: null, high: null, sd: null }
  const read = (name: 'low' | 'high' | 'accuracy', as: Dimension, bounds: object): number | null => {
    if (input[name] === undefined) return null
    const result = readQuantity(input[name], as, bounds)
    if (result.ok) return result.value
    const { message, expected, hint } = result
    issues.push(error([...path, name], message, { found: shown(input[name]), expected, hint }))
    return null
  }
  const within = { min: spec.low, max: spec.high }
  const low = read('low', dimension, within)
  const high = read('high', dimension, within)
  if (low !== null && high !== null && low >= high) {
    const found = `low ${low} ${spec.unit} and high ${high} ${spec.unit}`
    issues.push(error([...path, 'low'], 'must be below high', { found }))
  }
  const difference = dimension === 'temperature' ? 'temperature-difference' : dimension
  const half = read('accuracy', difference, { above: 0 })
  return { low, high, sd: half === null ? null : half * RECTANGULAR }
}

type Points = readonly (readonly [number, unknown])[]

/** Calibration points in SI. A bare number is allowed where the signal names its unit. */
function readTable(
  points: Points,
  unit: string | null,
  spec: RoleSpec,
  path: Path,
  issues: Issue[],
): [number, number][] {
  const dimension = DIMENSION_OF_UNIT[spec.unit]
  if (dimension === undefined) return []
  const conversion = unit === null ? null : payloadUnit(spec.unit, unit)
  const table: [number, number][] = []
  for (const [index, [raw, value]] of points.entries()) {
    const here = [...path, 'table', index]
    const before = table.at(-1)
    if (before !== undefined && raw <= before[0]) {
      const found = `${before[0]} and then ${raw}`
      issues.push(error([...here, 0], 'must rise from point to point', { found, expected: `more than ${before[0]}` }))
    }
    if (typeof value === 'number' && conversion !== null) {
      table.push([raw, value * conversion.scale + conversion.offset])
      continue
    }
    const read = readQuantity(value, dimension)
    if (read.ok) table.push([raw, read.value])
    else {
      const { message, expected, hint } = read
      issues.push(error([...here, 1], message, { found: shown(value), expected, hint }))
    }
  }
  return table
}

function trueWhen(given: SignalInput['true_when']): SignalSettings['trueWhen'] {
  if (given === undefined) return null
  return Array.isArray(given) ? given : [given]
}
