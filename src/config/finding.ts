/** What is wrong, or unwise, in a configuration: where it stands, what was found, what was expected. */

/** One place in a configuration that a person should look at. */
export type Finding = {
  /** The file as it was named to the program, or as found in the folder. */
  readonly file: string
  /** From 1; 0 where the finding is about the file as a whole. */
  readonly line: number
  readonly column: number
  /** Dotted, `boards.tank-board.signals.tank-level.unit`; '' for the whole file. */
  readonly path: string
  readonly message: string
  readonly found: string | null
  readonly expected: string | null
  readonly hint: string | null
}

/** Steps from the top of a document to a value. */
export type Path = readonly (string | number)[]

/** A finding before it has a place in a file. */
export type Issue = {
  readonly severity: 'error' | 'warning'
  readonly path: Path
  /** Whether the key or its value is what is wrong. */
  readonly at: 'key' | 'value'
  readonly message: string
  readonly found: string | null
  readonly expected: string | null
  readonly hint: string | null
}

type IssueWords = { found?: string | null; expected?: string | null; hint?: string | null; at?: 'key' | 'value' }

/** An issue that keeps the program from starting. */
export function error(path: Path, message: string, words: IssueWords = {}): Issue {
  return make('error', path, message, words)
}

/** An issue that is legal but unwise. */
export function warning(path: Path, message: string, words: IssueWords = {}): Issue {
  return make('warning', path, message, words)
}

function make(severity: Issue['severity'], path: Path, message: string, words: IssueWords): Issue {
  return {
    severity,
    path,
    at: words.at ?? 'value',
    message,
    found: words.found ?? null,
    expected: words.expected ?? null,
    hint: words.hint ?? null,
  }
}

/** A path as people read it. */
export function pathText(path: Path): string {
  return path.join('.')
}

/** A value from a file, short enough for one line and safe to print. */
export function shown(value: unknown): string {
  if (value === undefined) return 'nothing'
  if (Array.isArray(value)) return value.length === 0 ? 'an empty list' : `a list of ${value.length}`
  if (typeof value === 'object' && value !== null) {
    const keys = Object.keys(value)
    return keys.length === 0 ? 'an empty section' : `a section with ${shorten(keys.join(', '))}`
  }
  return shorten(typeof value === 'string' ? JSON.stringify(value) : String(value))
}

const SHOWN_CHARS_MAX = 80

function shorten(text: string): string {
  const flat = oneLine(text)
  return flat.length > SHOWN_CHARS_MAX ? `${flat.slice(0, SHOWN_CHARS_MAX - 1)}…` : flat
}

/** Anything that would break the line, or steer a terminal, becomes a space. */
function oneLine(text: string): string {
  return text.replace(/[\p{Cc}\u2028\u2029]+/gu, ' ')
}

/** The finding in one line: `file:line:column: path: message; found …; expected … (hint)`. */
export function formatFinding(finding: Finding): string {
  const place = finding.line > 0 ? `${finding.file}:${finding.line}:${finding.column}` : finding.file
  const about = finding.path === '' ? '' : `${finding.path}: `
  const found = finding.found === null ? '' : `; found ${finding.found}`
  const expected = finding.expected === null ? '' : `; expected ${finding.expected}`
  const hint = finding.hint === null ? '' : ` (${finding.hint})`
  return oneLine(`${place}: ${about}${finding.message}${found}${expected}${hint}`)
}
