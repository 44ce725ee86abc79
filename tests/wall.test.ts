/**
 * The walls between the rooms. A copy of the project's own rules is held, in a folder outside the tree, against files
 * that break each of them once: what should be reported is, and what is allowed is not.
 */
import { spawnSync } from 'node:child_process'
import { copyFileSync, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import ts from 'typescript'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { ROOT } from './support/source-tree.js'

const ROOMS = [
  'model',
  'config',
  'receive',
  'decode',
  'record',
  'infer',
  'judge',
  'tell',
  'show',
  'commands',
  'daemon',
  'runtime',
] as const
type Room = (typeof ROOMS)[number]

/** DEVELOPERS.md, the table of the house: what each room may import beside itself. */
const MAY: Readonly<Record<Room, readonly Room[]>> = {
  model: [],
  config: ['model'],
  receive: ['config', 'model'],
  decode: ['config', 'model'],
  record: ['model'],
  infer: ['config', 'model'],
  judge: ['config', 'model', 'infer'],
  tell: ['config', 'model', 'record'],
  show: ['config', 'model', 'record', 'infer', 'judge', 'tell'],
  commands: ROOMS.filter((room) => room !== 'commands'),
  daemon: ROOMS.filter((room) => room !== 'daemon' && room !== 'commands'),
  runtime: ['model'],
}
const PURE: readonly Room[] = ['model', 'decode', 'infer', 'judge']

/** A file that is written for one rule, and what must be said of it; null: nothing. */
type Case = { readonly path: string; readonly text: string; readonly expected: RegExp | null }

const uses = (specifier: string): string => `import { thing } from '${specifier}'\n\nexport const other = thing\n`

const IMPORTS: readonly Case[] = ROOMS.flatMap((room) =>
  ROOMS.filter((other) => other !== room).map((other): Case => {
    const allowed = MAY[room].includes(other)
    return {
      path: `src/${room}/uses-${other}.ts`,
      text: uses(`../${other}/thing.js`),
      expected: allowed ? null : /may import only/,
    }
  }),
)

const FURTHER: readonly Case[] = [
  ...ROOMS.map(
    (room): Case => ({
      path: `src/${room}/uses-simulators.ts`,
      text: uses('../../simulators/thing.js'),
      expected: /may import only/,
    }),
  ),
  ...ROOMS.map(
    (room): Case => ({
      path: `src/${room}/reads-files.ts`,
      text: "import { readFileSync } from 'node:fs'\n\nexport const read = readFileSync\n",
      expected: PURE.includes(room) ? /Node/ : null,
    }),
  ),
  ...ROOMS.map(
    (room): Case => ({
      path: `src/${room}/later-uses-commands.ts`,
      text: "export const later = () => import('../commands/thing.js')\n",
      expected: room === 'commands' ? null : /may import only/,
    }),
  ),
  ...ROOMS.flatMap((room) =>
    ['Date.now()', 'new Date()', 'Math.random()', 'performance.now()'].map(
      (call, i): Case => ({
        path: `src/${room}/asks-${i}.ts`,
        text: `export const asked = ${call}\n`,
        expected: /take time and chance as arguments/,
      }),
    ),
  ),
  { path: 'src/runtime/clock.ts', text: 'export const now = () => Date.now()\n', expected: null },
  { path: 'src/infer/dates.ts', text: 'export const day = (ms: number) => new Date(ms)\n', expected: null },
  { path: 'simulators/uses-model.ts', text: uses('../src/model/thing.js'), expected: null },
  ...ROOMS.filter((room) => room !== 'model').map(
    (room): Case => ({
      path: `simulators/uses-${room}.ts`,
      text: uses(`../src/${room}/thing.js`),
      expected: /may import only/,
    }),
  ),
  { path: 'src/model/any.ts', text: 'export const one: any = 1\n', expected: /any/ },
  { path: 'src/model/sure.ts', text: 'export const one = (a: string | null) => a!.length\n', expected: /non-null/ },
]

/** What Biome, with the project's own rules, says of each file, by path. */
function lint(folder: string): ReadonlyMap<string, string> {
  const biome = join(ROOT, 'node_modules', '@biomejs', 'biome', 'bin', 'biome')
  const words = ['lint', '--reporter=json', '--max-diagnostics=none', '--colors=off', '.']
  const done = spawnSync(process.execPath, [biome, ...words], { cwd: folder, encoding: 'utf8', maxBuffer: 2 ** 26 })
  const report = JSON.parse(done.stdout) as {
    diagnostics: { category?: string; message: unknown; location?: { path?: unknown } | null }[]
  }
  const said = new Map<string, string>()
  for (const { category, message, location } of report.diagnostics) {
    const path = JSON.stringify(location?.path ?? '').replaceAll('"', '')
    said.set(path, `${said.get(path) ?? ''}${category ?? ''}: ${JSON.stringify(message)}\n`)
  }
  return said
}

describe('the walls between the rooms', () => {
  const cases = [...IMPORTS, ...FURTHER]
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-walls-'))
  let said: ReadonlyMap<string, string> = new Map()

  beforeAll(() => {
    for (const path of ['biome.json', 'config/tooling/no-clock.grit']) {
      mkdirSync(dirname(join(folder, path)), { recursive: true })
      copyFileSync(join(ROOT, path), join(folder, path))
    }
    for (const { path, text } of cases) {
      mkdirSync(dirname(join(folder, path)), { recursive: true })
      writeFileSync(join(folder, path), text)
    }
    said = lint(folder)
  })
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  it.each(cases.filter(({ expected }) => expected !== null))('$path is reported', ({ path, expected }) => {
    expect(said.get(path) ?? 'nothing').toMatch(expected ?? /./)
  })

  it('what is allowed is not reported', () => {
    const allowed = cases.filter(({ expected }) => expected === null)
    expect(allowed.length).toBeGreaterThan(40)
    expect(allowed.flatMap(({ path }) => (said.has(path) ? [`${path}: ${said.get(path)}`] : []))).toEqual([])
  })
})

describe('the pure rooms know nothing of the machine', () => {
  /** Errors of a text under config/tooling/tsconfig.pure.json. */
  function errorsOf(text: string): readonly string[] {
    const file = join(ROOT, 'config', 'tooling', 'tsconfig.pure.json')
    const read = ts.readConfigFile(file, ts.sys.readFile)
    const { options } = ts.parseJsonConfigFileContent(read.config, ts.sys, dirname(file))
    const name = join(ROOT, 'src', 'infer', 'no-such-file.ts')
    const host = ts.createCompilerHost(options)
    const { getSourceFile, fileExists, readFile } = host
    host.getSourceFile = (path, target) =>
      path === name ? ts.createSourceFile(path, text, target) : getSourceFile.call(host, path, target)
    host.fileExists = (path) => path === name || fileExists(path)
    host.readFile = (path) => (path === name ? text : readFile(path))
    const program = ts.createProgram([name], options, host)
    return ts
      .getPreEmitDiagnostics(program)
      .map(({ messageText }) => ts.flattenDiagnosticMessageText(messageText, '\n'))
  }

  it('no timers, process, buffers, network or console: the compiler does not know them there', () => {
    const globals = ['setTimeout', 'setInterval', 'process', 'Buffer', 'fetch', 'console', 'performance', 'require']
    const text = globals.map((name, i) => `export const g${i} = ${name}\n`).join('')
    const errors = errorsOf(text).join('\n')
    for (const name of globals) expect(errors).toContain(`'${name}'`)
  })

  it('an honest text has no errors there', () => {
    expect(errorsOf('export const twice = (n: number): number => Math.sqrt(n) * 2\n')).toEqual([])
  })
})
