/**
 * The whole daemon on a clock that the boards drive: `node --import tsx tests/bench/live-daemon.ts '{…}'`. At tens of
 * thousands of messages a second a board's messages would be less than a millisecond apart; so time itself is pressed
 * together: the daemon's clock moves by the boards' step for each message committed. Everything else is what
 * `run` does: broker, decoder, store with synchronous = FULL, engine, judge, page. It runs the built program.
 *
 * Writes `ready`, then answers each line on standard input with the line's counts as JSON; ends with its input.
 */
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { pathToFileURL } from 'node:url'
import type * as Load from '../../src/config/load.js'
import type * as DaemonModule from '../../src/daemon/daemon.js'
import type { Clock } from '../../src/runtime/clock.js'

export type LiveOptions = {
  /** Folder of the built program. */
  readonly program: string
  readonly config: string
  readonly startMs: number
  /** Time that passes with each message, ms. */
  readonly perMessageMs: number
  readonly latenessMs: number
}

export type LiveCounts = {
  readonly messages: number
  readonly samples: number
  readonly refused: number
  readonly late: number
  /** Event time that the slowest site has been inferred to, and the clock. */
  readonly inferredTo: number
  readonly now: number
  readonly fills: number
  readonly alarms: number
}

const options = JSON.parse(process.argv[2] ?? '{}') as LiveOptions
const built = (path: string): string => pathToFileURL(join(options.program, path)).href
const { startDaemon } = (await import(built('daemon/daemon.js'))) as typeof DaemonModule
const { loadConfig } = (await import(built('config/load.js'))) as typeof Load

const loaded = loadConfig(options.config)
if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))

let messages = (): number => 0
const clock: Clock = {
  now: () => Math.round(options.startMs + messages() * options.perMessageMs),
  monotonic: () => performance.now(),
  chance: () => Math.random(),
  after(ms, run) {
    const timer = setTimeout(run, ms)
    return () => clearTimeout(timer)
  },
}
let alarms = 0
const daemon = await startDaemon({
  settings: loaded.settings,
  clock,
  log: { debug() {}, info() {}, warn: console.error, error: console.error },
  version: 'bench',
  pageDir: null,
  latenessMs: options.latenessMs,
  onNotices: (_site, notices) => {
    alarms += notices.length
  },
})
messages = () => daemon.line.counts.messages

function counts(): LiveCounts {
  const { line, store } = daemon
  const fills = line.sites.reduce((sum, { site }) => sum + store.cycles.list(site.id, 0, 8.64e15, 100_000).length, 0)
  const inferredTo = Math.min(...line.sites.map((site) => (site.goingBack ? 0 : site.reached)))
  const { messages: taken, samples, refused, late } = line.counts
  return { messages: taken, samples, refused, late, inferredTo, now: clock.now(), fills, alarms }
}

process.stdout.write('ready\n')
const lines = createInterface({ input: process.stdin })
lines.on('line', () => process.stdout.write(`${JSON.stringify(counts())}\n`))
lines.on('close', () => void daemon.stop().then(() => process.exit(0)))
