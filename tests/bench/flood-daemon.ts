/**
 * The whole daemon as a process of its own, to be flooded: `node --import tsx tests/bench/flood-daemon.ts '{…}'`. It
 * runs the program built into `program`, or the sources where that is null. Its clock goes at the pace of life from
 * `startMs` and can be moved on by its parent. Writes `ready`, then answers each line of its input:
 * `shift MS`, `counts`, `loop` (begins to measure the event loop anew) and `end` (derives all there is).
 */
import { join } from 'node:path'
import { monitorEventLoopDelay } from 'node:perf_hooks'
import { createInterface } from 'node:readline'
import { pathToFileURL } from 'node:url'
import type * as Load from '../../src/config/load.js'
import type * as DaemonModule from '../../src/daemon/daemon.js'
import type { Clock } from '../../src/runtime/clock.js'

export type FloodOptions = { readonly program: string | null; readonly config: string; readonly startMs: number }

export type FloodCounts = {
  readonly messages: number
  readonly late: number
  readonly goingBack: boolean
  /** Notices of the judge since the start: `raised dry-well:well`. */
  readonly notices: readonly string[]
  /** Delay of the event loop, ms: how much later than asked a timer fires. */
  readonly delayP99Ms: number
  readonly delayMaxMs: number
}

export type FloodEnd = { readonly cycles: unknown; readonly days: unknown }

const options = JSON.parse(process.argv[2] ?? '{}') as FloodOptions
const from = (path: string): string =>
  options.program === null ? `../../src/${path}` : pathToFileURL(join(options.program, path)).href
const { startDaemon } = (await import(from('daemon/daemon.js'))) as typeof DaemonModule
const { loadConfig } = (await import(from('config/load.js'))) as typeof Load
const loaded = loadConfig(options.config)
if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))

let shifted = 0
const began = performance.now()
const clock: Clock = {
  now: () => Math.round(options.startMs + performance.now() - began + shifted),
  monotonic: () => performance.now(),
  chance: () => Math.random(),
  after(ms, run) {
    const timer = setTimeout(run, ms)
    return () => clearTimeout(timer)
  },
}
const notices: string[] = []
const daemon = await startDaemon({
  settings: loaded.settings,
  clock,
  log: { debug() {}, info() {}, warn: console.error, error: console.error },
  version: 'bench',
  pageDir: null,
  onNotices: (_site, said) => notices.push(...said.map(({ reason, alarm }) => `${reason} ${alarm.key}`)),
})
/** The histogram's resolution is a part of what it measures, and is taken off again. */
const RESOLUTION_MS = 5
const loop = monitorEventLoopDelay({ resolution: RESOLUTION_MS })
loop.enable()
const ms = (nanoseconds: number): number => Math.max(0, nanoseconds / 1e6 - RESOLUTION_MS)

function counts(): FloodCounts {
  return {
    messages: daemon.line.counts.messages,
    late: daemon.line.counts.late,
    goingBack: daemon.line.sites.some((site) => site.goingBack),
    notices,
    delayP99Ms: ms(loop.percentile(99)),
    delayMaxMs: ms(loop.max),
  }
}

function end(): FloodEnd {
  daemon.line.finish(clock.now())
  const { store, line } = daemon
  const site = line.sites[0]?.site.id ?? ''
  return {
    cycles: store.cycles.list(site, 0, Number.MAX_SAFE_INTEGER, 100_000),
    days: store.days.list(site, '0000', '9999'),
  }
}

function answer(line: string): unknown {
  const [word, figure] = line.split(' ')
  if (word === 'shift') shifted += Number(figure)
  if (word === 'loop') loop.reset()
  return word === 'end' ? { ...end(), now: clock.now() } : counts()
}

process.stdout.write('ready\n')
const lines = createInterface({ input: process.stdin })
lines.on('line', (line) => process.stdout.write(`${JSON.stringify(answer(line))}\n`))
lines.on('close', () => void daemon.stop().then(() => process.exit(0)))
