/** From zod's issues to ours: what was found, what was expected, and the nearest known word. */
import type { z } from 'zod'
import { error, type Issue, type Path, shown } from './finding.js'
import { meant, oneOf } from './nearest.js'

type ZodIssue = z.core.$ZodIssue

/** All issues of one failed parse of `input`, which stands at `base` in its file. */
export function toIssues(issues: readonly ZodIssue[], input: unknown, base: Path): Issue[] {
  return issues.flatMap((issue) => one(issue, input, base))
}

function one(issue: ZodIssue, input: unknown, base: Path): Issue[] {
  const inner = steps(issue.path)
  const path = [...base, ...inner]
  const value = valueAt(input, inner)
  const found = shown(value)
  switch (issue.code) {
    case 'custom':
      return [ours(issue.message, issue.params, value, path)]
    case 'unrecognized_keys':
      return issue.keys.map((key) => unknownKey(key, issue.message.split(', '), path))
    case 'invalid_key':
      return issue.issues.map((nested) =>
        nested.code === 'custom'
          ? ours(nested.message, nested.params, value, path)
          : plain(nested.message, found, path),
      )
    case 'invalid_union':
      return union(issue, input, base, path)
    case 'invalid_type':
      if (value === undefined) return [error(path, 'is needed', { expected: typeName(issue.expected) })]
      return [error(path, 'is of the wrong kind', { found, expected: typeName(issue.expected) })]
    case 'invalid_value':
      return [choice(value, issue.values.map(String), path)]
    case 'too_small':
      return [error(path, 'is too small', { found, expected: `at least ${size(issue.minimum, issue.origin)}` })]
    case 'too_big':
      return [error(path, 'is too large', { found, expected: `at most ${size(issue.maximum, issue.origin)}` })]
    default:
      return [plain(issue.message, found, path)]
  }
}

/** Sentences of the schema's own: `is no name: expected letters …`. */
function plain(message: string, found: string, path: Path): Issue {
  const [what = message, expected] = message.split(': expected ')
  return error(path, what, { found, expected: expected ?? null })
}

function ours(message: string, params: Record<string, unknown> | undefined, value: unknown, path: Path): Issue {
  const text = (name: string): string | null => {
    const given = params?.[name]
    return typeof given === 'string' ? given : null
  }
  return error(path, message, {
    found: text('found') ?? (value === undefined ? null : shown(value)),
    expected: text('expected'),
    hint: text('hint'),
    at: text('at') === 'key' ? 'key' : 'value',
  })
}

/** A key that nothing reads, met with the nearest that something does. */
export function unknownKey(key: string, known: readonly string[], section: Path): Issue {
  return error([...section, key], 'is not known here', {
    found: JSON.stringify(key),
    expected: oneOf(known, key),
    hint: meant(key, known),
    at: 'key',
  })
}

function choice(value: unknown, options: readonly string[], path: Path): Issue {
  const expected = options.length === 1 ? shown(options[0]) : oneOf(options, String(value))
  if (value === undefined) return error(path, 'is needed', { expected })
  return error(path, 'is none of the known words', {
    found: shown(value),
    expected,
    hint: typeof value === 'string' ? meant(value, options) : null,
  })
}

type Union = Extract<ZodIssue, { code: 'invalid_union' }>

/** Of the branches of a union, the one whose kind of value was written; else all that would have been accepted. */
function union(issue: Union, input: unknown, base: Path, path: Path): Issue[] {
  const inner = steps(issue.path)
  const value = valueAt(input, inner)
  if (issue.errors.length === 0) {
    const options = 'options' in issue && Array.isArray(issue.options) ? issue.options.map(String) : []
    return [choice(value, options, path)]
  }
  const kindFits = issue.errors.find((errors) => !errors.some((e) => e.code === 'invalid_type' && e.path.length === 0))
  if (kindFits !== undefined) {
    return kindFits.flatMap((nested) => one({ ...nested, path: [...issue.path, ...nested.path] }, input, base))
  }
  const kinds = issue.errors.flatMap((errors) =>
    errors.map((e) => (e.code === 'invalid_type' ? typeName(e.expected) : '')),
  )
  const expected = [...new Set(kinds.filter((kind) => kind !== ''))].join(' or ')
  return [error(path, 'is of the wrong kind', { found: shown(value), expected })]
}

function typeName(expected: string): string {
  const names: Record<string, string> = {
    object: 'a section (key: value)',
    record: 'a section (key: value)',
    array: 'a list',
    tuple: 'a list',
    string: 'text',
    number: 'a number',
    int: 'a whole number',
    boolean: 'true or false',
  }
  return names[expected] ?? expected
}

function size(limit: number | bigint, origin: string): string {
  if (origin === 'string') return `${limit} characters`
  if (origin === 'array' || origin === 'tuple') return `${limit} entries`
  return String(limit)
}

function steps(path: readonly PropertyKey[]): (string | number)[] {
  return path.map((step) => (typeof step === 'symbol' ? String(step) : step))
}

/** What stands at a path of a plain tree; undefined where nothing does. */
export function valueAt(tree: unknown, path: Path): unknown {
  let value = tree
  for (const step of path) {
    if (typeof value !== 'object' || value === null || !Object.hasOwn(value, step)) return undefined
    value = Reflect.get(value, step)
  }
  return value
}
