/** Reads a file section by section, so that a fault in one does not hide the faults of the others. */
import type { z } from 'zod'
import { type ConfigDocument, isRecord } from './document.js'
import { error, type Issue, type Path } from './finding.js'
import { toIssues, unknownKey } from './issues.js'

export type SectionResult = {
  readonly sections: Record<string, unknown>
  readonly issues: readonly Issue[]
  /** Some section was left out, or read without its faulty entries: what seems missing may only be mistyped. */
  readonly partial: boolean
}

/**
 * @param document the file
 * @param schemas the sections that this file may have
 * @param elsewhere sections that belong into another file, and into which
 * @returns the sections that could be read (defaults filled in) and everything that is wrong with the others
 */
export function readSections(
  document: ConfigDocument,
  schemas: Readonly<Record<string, z.ZodType>>,
  elsewhere: Readonly<Record<string, string>> = {},
): SectionResult {
  const issues: Issue[] = [...strangers(document.tree, Object.keys(schemas), elsewhere), ...choices(document.tree)]
  const sections: Record<string, unknown> = {}
  for (const [name, schema] of Object.entries(schemas)) {
    const input = document.tree[name]
    const result = schema.safeParse(input)
    if (result.success) {
      sections[name] = result.data
      continue
    }
    const found = toIssues(result.error.issues, input, [name])
    issues.push(...found)
    const rest = schema.safeParse(without(input, found))
    if (rest.success) sections[name] = rest.data
  }
  return { sections, issues, partial: issues.length > 0 }
}

type Tree = Readonly<Record<string, unknown>>

function strangers(tree: Tree, known: readonly string[], elsewhere: Readonly<Record<string, string>>): Issue[] {
  const unread = Object.keys(tree).filter((key) => !known.includes(key))
  return unread.map((key) => {
    const home = Object.hasOwn(elsewhere, key) ? elsewhere[key] : undefined
    if (home === undefined) return unknownKey(key, known, [])
    return error([key], 'does not belong in this file', { found: JSON.stringify(key), expected: home, at: 'key' })
  })
}

/** Sections of which exactly one entry may stand. */
const CHOICES = [
  { path: ['broker'], of: ['embedded', 'external'] },
  { path: ['tank', 'shape'], of: ['box', 'upright-cylinder', 'lying-cylinder', 'table'] },
] as const

function choices(tree: Tree): Issue[] {
  return CHOICES.flatMap(({ path, of }) => {
    let here: unknown = tree
    for (const step of path) here = isRecord(here) ? here[step] : undefined
    if (!isRecord(here)) return []
    const given = of.filter((kind) => Object.hasOwn(here, kind))
    if (given.length === 1) return []
    const found = given.length === 0 ? 'none of them' : given.join(' and ')
    return [error(path, 'needs exactly one', { found, expected: `one of ${of.join(', ')}`, at: 'key' })]
  })
}

/** Depth of `boards.<board>.signals.<signal>`: a signal with a fault in it is left out whole. */
const SIGNAL_DEPTH = 4

/**
 * The input less what cannot be read: unknown keys everywhere, and faulty entries of boards. So the rest of the
 * section can still be held against the other sections.
 */
function without(input: unknown, issues: readonly Issue[]): unknown {
  const copy: unknown = structuredClone(input)
  for (const { path, at } of issues) {
    if (path[0] === 'boards') remove(copy, path.slice(1, SIGNAL_DEPTH))
    else if (at === 'key') remove(copy, path.slice(1))
  }
  return copy
}

function remove(tree: unknown, path: Path): void {
  let here = tree
  for (const step of path.slice(0, -1)) {
    if (typeof here !== 'object' || here === null) return
    here = Reflect.get(here, step)
  }
  const last = path.at(-1)
  if (isRecord(here) && last !== undefined) delete here[String(last)]
}
