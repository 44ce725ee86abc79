/** A YAML 1.2 file (JSON is YAML) as a plain tree, and where in the file each of its values stands. */
import { type Document, isAlias, isMap, isScalar, isSeq, LineCounter, type Node, parseAllDocuments, visit } from 'yaml'
import { LIMITS } from '../model/limits.js'
import { error, type Finding, type Issue, type Path, pathText, warning } from './finding.js'

export type ConfigDocument = {
  readonly file: string
  readonly tree: Readonly<Record<string, unknown>>
  /** Turns an issue into a finding with file, line and column. */
  readonly place: (issue: Issue) => Finding
}

export type Parsed =
  | { readonly document: ConfigDocument; readonly issues: readonly Issue[] }
  | { readonly errors: Finding[] }

/** Reads the text of one file. Syntax errors, all of them, come back as findings. */
export function parseDocument(file: string, text: string): Parsed {
  const lines = new LineCounter()
  const at = (offset: number, message: string, hint: string | null = null): Finding => {
    const { line, col } = lines.linePos(offset)
    return { file, line, column: col, path: '', message, found: null, expected: null, hint }
  }
  const documents = parseAllDocuments(text, { lineCounter: lines, prettyErrors: false, uniqueKeys: true })
  if (!Array.isArray(documents) || documents.length === 0) return { errors: [at(0, 'the file is empty')] }
  const [first, second] = documents
  if (first === undefined) return { errors: [at(0, 'the file is empty')] }
  const errors = documents.flatMap((document) => [...document.errors, ...document.warnings])
  if (errors.length > 0) return { errors: errors.map((fault) => at(fault.pos[0], fault.message, hintFor(fault.code))) }
  if (second !== undefined) {
    return { errors: [at(second.range[0], 'the file holds more than one document', 'one file, one configuration')] }
  }
  if (first.contents === null) return { errors: [at(0, 'the file is empty')] }
  if (!isMap(first.contents)) return { errors: [at(first.contents.range?.[0] ?? 0, 'the file is no list of sections')] }
  const unusable = unusableNodes(first)
  if (unusable.length > 0) return { errors: unusable.map(({ offset, message }) => at(offset, message)) }
  return grown(file, first, lines)
}

/** What YAML allows and a configuration has no use for. */
function unusableNodes(document: Document.Parsed): { offset: number; message: string }[] {
  const found: { offset: number; message: string }[] = []
  visit(document, {
    Alias: (_key, node) => {
      if (node.resolve(document) !== undefined) return
      found.push({
        offset: node.range?.[0] ?? 0,
        message: `*${node.source} stands for nothing: no &${node.source} before it`,
      })
    },
    Pair: (_key, pair) => {
      if (isScalar(pair.key)) return
      found.push({ offset: rangeStart(pair.key) ?? 0, message: 'a key must be one word, not a list or a section' })
    },
  })
  return found
}

function grown(file: string, document: Document.Parsed, lines: LineCounter): Parsed {
  const place = (issue: Issue): Finding => {
    const { line, col } = lines.linePos(locate(document, issue.path, issue.at))
    return {
      file,
      line,
      column: col,
      path: pathText(issue.path),
      message: issue.message,
      found: issue.found,
      expected: issue.expected,
      hint: issue.hint,
    }
  }
  let whole: unknown
  try {
    whole = document.toJS({ maxAliasCount: LIMITS.configAliasesMax })
  } catch (cause) {
    const message = cause instanceof Error ? cause.message : String(cause)
    return { errors: [place(error([], `the file cannot be read: ${message}`))] }
  }
  const issues: Issue[] = []
  const tree = withoutBlanks(whole, [], issues)
  return { document: { file, tree: isRecord(tree) ? tree : {}, place }, issues }
}

function hintFor(code: string): string | null {
  if (code === 'TAB_AS_INDENT') return 'indent with spaces, not with tabs'
  if (code === 'DUPLICATE_KEY') return 'each key once; join the two'
  if (code === 'BAD_INDENT') return 'keys of one section stand in one column'
  return null
}

/** Entries of these sections may be left blank: `battery-voltage:` alone means its defaults. */
const MAY_BE_BLANK = [
  ['boards', '*'],
  ['boards', '*', 'signals', '*'],
  ['alarms', '*'],
  ['broker', 'embedded'],
] as const

function mayBeBlank(path: Path): boolean {
  return MAY_BE_BLANK.some(
    (pattern) => pattern.length === path.length && pattern.every((step, i) => step === '*' || step === path[i]),
  )
}

/** A key with nothing after it counts as not written; below the sections that is worth a word. */
function withoutBlanks(value: unknown, path: Path, issues: Issue[]): unknown {
  if (Array.isArray(value)) return value.map((item, index) => withoutBlanks(item, [...path, index], issues))
  if (!isRecord(value)) return value
  const kept: [string, unknown][] = []
  for (const [key, inner] of Object.entries(value)) {
    const here = [...path, key]
    if (inner !== null) kept.push([key, withoutBlanks(inner, here, issues)])
    else if (mayBeBlank(here)) kept.push([key, {}])
    else if (path.length > 0) issues.push(warning(here, 'has no value and counts as not written', { at: 'key' }))
  }
  return Object.fromEntries(kept)
}

export function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

/** Offset of the value (or key) at a path, or of the deepest section above it that is there. */
function locate(document: Document.Parsed, path: Path, at: 'key' | 'value'): number {
  let node: Node | null = document.contents
  let offset = node?.range?.[0] ?? 0
  for (const [depth, step] of path.entries()) {
    const here: Node | null = isAlias(node) ? (node.resolve(document) ?? null) : node
    if (isMap(here)) {
      const pair = here.items.find((item) => isScalar(item.key) && String(item.key.value) === String(step))
      if (pair === undefined) break
      const key = rangeStart(pair.key)
      const value = rangeStart(pair.value)
      const last = depth === path.length - 1
      const wantsKey = !last || at === 'key' || (isScalar(pair.value) && pair.value.value === null)
      offset = (wantsKey ? key : value) ?? key ?? offset
      node = isNode(pair.value) ? pair.value : null
    } else if (isSeq(here)) {
      const item: unknown = here.items[Number(step)]
      offset = rangeStart(item) ?? offset
      node = isNode(item) ? item : null
    } else break
  }
  return offset
}

function isNode(value: unknown): value is Node {
  return isMap(value) || isSeq(value) || isScalar(value) || isAlias(value)
}

function rangeStart(value: unknown): number | null {
  return isNode(value) ? (value.range?.[0] ?? null) : null
}
