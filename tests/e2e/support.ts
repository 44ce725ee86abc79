/** The built program as a process of its own, watched from outside as its owner would. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { once } from 'node:events'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { onTestFinished } from 'vitest'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
export const PROGRAM = join(ROOT, 'dist', 'main.js')

const START_MS_MAX = 30_000

/** `npm test` builds beforehand; a single file run by hand builds when nothing is built yet. */
export function ensureBuilt(): void {
  if (existsSync(PROGRAM) && existsSync(join(ROOT, 'dist', 'page', 'index.html'))) return
  const built = spawnSync(process.execPath, [join(ROOT, 'config', 'tooling', 'build.mjs')], { stdio: 'inherit' })
  if (built.status !== 0) throw new Error('the program could not be built')
}

export type LogLine = { readonly level: string; readonly msg: string; readonly [field: string]: unknown }

export type Program = {
  readonly pid: number
  /** The configuration that it was started with; empty for other verbs. */
  readonly config: string
  /** Lines of its log so far. */
  readonly log: readonly LogLine[]
  /** Lines of its standard output so far. */
  readonly out: readonly string[]
  /** Resolves when it listens; rejects when it ends before that. */
  readonly listening: Promise<{ readonly page: string; readonly broker: string }>
  readonly exited: Promise<{ readonly code: number | null; readonly signal: NodeJS.Signals | null }>
  running(): boolean
  signal(name: NodeJS.Signals): void
  /** Ends it without warning and waits until it is gone. */
  kill(): Promise<void>
}

/** A folder of the test's own, removed with it. */
export function folder(): string {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-e2e-'))
  onTestFinished(() => rmSync(path, { recursive: true, force: true }))
  return path
}

/** Starts the program with these words; it is ended with the test. */
export function startProgram(words: readonly string[]): Program {
  const child = spawn(process.execPath, [PROGRAM, ...words], { stdio: ['ignore', 'pipe', 'pipe'] })
  const log: LogLine[] = []
  const out: string[] = []
  const exited = once(child, 'exit').then(([code, signal]: (number | NodeJS.Signals | null)[]) => ({
    code: typeof code === 'number' ? code : null,
    signal: typeof signal === 'string' ? signal : null,
  }))
  eachLine(child.stdout, (line) => out.push(line))
  const listening = new Promise<{ page: string; broker: string }>((resolve, reject) => {
    const late = setTimeout(() => reject(new Error(`not listening after ${START_MS_MAX} ms`)), START_MS_MAX)
    eachLine(child.stderr, (line) => {
      const parsed = logLine(line)
      log.push(parsed)
      if (parsed.msg === 'listening') resolve({ page: String(parsed.page), broker: `mqtt://${String(parsed.broker)}` })
    })
    void exited.then(({ code, signal }) => {
      clearTimeout(late)
      reject(new Error(`ended (${code ?? signal}) before it listened: ${log.map((line) => line.msg).join('; ')}`))
    })
  })
  // Whoever kills it early does not wait for it.
  listening.catch(() => {})
  const running = () => child.exitCode === null && child.signalCode === null
  const kill = async () => {
    if (running()) child.kill('SIGKILL')
    await exited
  }
  onTestFinished(kill)
  const config = words[words.indexOf('--config') + 1] ?? ''
  return {
    pid: child.pid ?? -1,
    config,
    log,
    out,
    listening,
    exited,
    running,
    signal: (name) => void child.kill(name),
    kill,
  }
}

/** Starts the daemon on a configuration. */
export function startDaemonProgram(config: string, more: readonly string[] = []): Program {
  return startProgram(['run', '--config', config, ...more])
}

function eachLine(stream: ChildProcess['stdout'], take: (line: string) => void): void {
  let rest = ''
  stream?.setEncoding('utf8').on('data', (text: string) => {
    const pieces = (rest + text).split('\n')
    rest = pieces.pop() ?? ''
    for (const piece of pieces) take(piece)
  })
}

function logLine(text: string): LogLine {
  try {
    const value: unknown = JSON.parse(text)
    if (typeof value === 'object' && value !== null) return { level: '', msg: '', ...value }
  } catch {
    // A line that is no JSON, as of an error at the start.
  }
  return { level: 'text', msg: text }
}

export function pause(ms: number): Promise<void> {
  return new Promise((resolve) => setTimeout(resolve, ms))
}

/** Asks until the answer is as wanted; the last answer is in the error when it never is. */
export async function until<T>(
  ask: () => Promise<T> | T,
  wanted: (answer: T) => boolean,
  msMax: number,
  what: string,
): Promise<T> {
  const end = Date.now() + msMax
  for (;;) {
    const answer = await ask()
    if (wanted(answer)) return answer
    if (Date.now() > end) throw new Error(`${what}: not within ${msMax} ms; last: ${JSON.stringify(answer)}`)
    await pause(50)
  }
}

/** Status and JSON body of a request; status 0 when nobody answers. */
export async function ask(url: string, init: RequestInit = {}): Promise<{ status: number; body: unknown }> {
  try {
    const response = await fetch(url, { ...init, signal: AbortSignal.timeout(5_000) })
    const text = await response.text()
    return { status: response.status, body: text.startsWith('{') ? (JSON.parse(text) as unknown) : text }
  } catch {
    return { status: 0, body: null }
  }
}

/** A small generator with a seed, so that a failing run can be had again (mulberry32, public domain). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let x = Math.imul(state ^ (state >>> 15), 1 | state)
    x = (x + Math.imul(x ^ (x >>> 7), 61 | x)) ^ x
    return ((x ^ (x >>> 14)) >>> 0) / 2 ** 32
  }
}
