/** The source itself: sizes, words, imports, and that nothing lies about unused. */
import { describe, expect, it } from 'vitest'
import { filesIn, functionSizes, importsOf, readText, resolveImport, type SourceFile } from './support/source-tree.js'

const FILE_LINES_MAX = 400
const FUNCTION_LINES_MAX = 85

const SOURCE = filesIn(['src', 'simulators'], ['.ts'])
const PATHS = new Set(SOURCE.map(({ path }) => path))
/** What is started: the program, the page in the browser and its worker, the simulated boards, and the writers of generated files. */
const ENTRIES = ['src/main.ts', 'src/show/page/main.ts', 'src/show/page/worker.ts', 'simulators/main.ts']
const WRITERS = filesIn(['config/tooling'], ['.ts'])
const EVERYTHING = [
  ...filesIn(['src', 'simulators', 'tests', 'config'], ['.ts', '.mjs', '.css', '.html', '.yaml', '.json', '.grit']),
  ...filesIn(['docs'], ['.md']),
  ...['README.md', 'DEVELOPERS.md', 'CHANGELOG.md', '.ci/run', 'package.json', 'biome.json'].map((path) => ({
    path,
    text: readText(path),
  })),
]

/** Lines of a file that a rule finds fault with, as `path:line: text`. */
function linesWith(files: readonly SourceFile[], pattern: RegExp): readonly string[] {
  return files.flatMap(({ path, text }) =>
    text.split('\n').flatMap((line, i) => (pattern.test(line) ? [`${path}:${i + 1}: ${line.trim()}`] : [])),
  )
}

describe('sizes', () => {
  it(`no file is longer than ${FILE_LINES_MAX} lines`, () => {
    const long = SOURCE.map(({ path, text }) => ({ path, lines: text.split('\n').length - 1 }))
    expect(long.filter(({ lines }) => lines > FILE_LINES_MAX)).toEqual([])
  })

  it(`no function has more than ${FUNCTION_LINES_MAX} lines of its own`, () => {
    const sizes = SOURCE.flatMap(functionSizes)
    // The measure itself must see functions, or nothing would ever be too long.
    expect(sizes.length).toBeGreaterThan(500)
    expect(sizes.filter(({ lines }) => lines > FUNCTION_LINES_MAX)).toEqual([])
  })
})

describe('words', () => {
  it('nothing is put off in a comment', () => {
    // Put together here, so that this file does not find itself.
    const words = new RegExp(`\\b(${['TO' + 'DO', 'FIX' + 'ME', 'X'.repeat(3), 'HA' + 'CK'].join('|')})\\b`)
    expect(linesWith(EVERYTHING, words)).toEqual([])
  })

  it('no path of one machine is written anywhere', () => {
    const folders = ['work', 'root', 'home', 'Users', 'tmp'].join('|')
    expect(linesWith(EVERYTHING, new RegExp(`(^|['"\`\\s(=])/(${folders})/`))).toEqual([])
  })

  it('no control characters but line ends, and lines end without blanks', () => {
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
    expect(linesWith(EVERYTHING, /[\u0000-\u001f\u007f\u2028\u2029\ufeff]/)).toEqual([])
    expect(linesWith(EVERYTHING, /[ \t]$/)).toEqual([])
    expect(EVERYTHING.filter(({ text }) => !text.endsWith('\n')).map(({ path }) => path)).toEqual([])
  })
})

describe('imports', () => {
  it('are relative and end in .js, or name a Node module or a dependency that is installed for users', () => {
    const { dependencies } = JSON.parse(readText('package.json')) as { dependencies: Record<string, string> }
    const known = new Set(Object.keys(dependencies))
    const odd = SOURCE.flatMap((file) =>
      importsOf(file)
        .filter((name) => !fits(name, known))
        .map((name) => `${file.path}: ${name}`),
    )
    expect(odd).toEqual([])
  })

  it('lead to files that are there', () => {
    const lost = SOURCE.flatMap((file) =>
      importsOf(file)
        .filter((name) => name.startsWith('.') && resolveImport(file.path, name, PATHS) === null)
        .map((name) => `${file.path}: ${name}`),
    )
    expect(lost).toEqual([])
  })

  it('reach every file from something that is started', () => {
    const reached = reachable()
    expect(SOURCE.map(({ path }) => path).filter((path) => !reached.has(path))).toEqual([])
  })

  it('name every dependency that is installed for users', () => {
    const { dependencies } = JSON.parse(readText('package.json')) as { dependencies: Record<string, string> }
    const used = new Set(SOURCE.flatMap(importsOf).map(packageOf))
    expect(Object.keys(dependencies).filter((name) => !used.has(name))).toEqual([])
  })
})

/** `@scope/name` of `@scope/name/part`, `name` of `name/part`. */
function packageOf(specifier: string): string {
  return specifier
    .split('/')
    .slice(0, specifier.startsWith('@') ? 2 : 1)
    .join('/')
}

function fits(specifier: string, dependencies: ReadonlySet<string>): boolean {
  if (specifier.startsWith('.')) return specifier.endsWith('.js')
  return specifier.startsWith('node:') || dependencies.has(packageOf(specifier))
}

function reachable(): ReadonlySet<string> {
  const byPath = new Map(SOURCE.map((file) => [file.path, file]))
  const reached = new Set<string>()
  const waiting = [
    ...ENTRIES,
    ...WRITERS.flatMap((file) => importsOf(file).map((name) => resolveImport(file.path, name, PATHS) ?? '')),
  ]
  for (let path = waiting.pop(); path !== undefined; path = waiting.pop()) {
    const file = byPath.get(path)
    if (file === undefined || reached.has(path)) continue
    reached.add(path)
    for (const name of importsOf(file)) waiting.push(resolveImport(path, name, PATHS) ?? '')
  }
  return reached
}
