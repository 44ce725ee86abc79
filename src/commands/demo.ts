import { type ChildProcess, spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { startDaemon } from '../daemon/daemon.js'
import type { DaemonSettings } from '../model/settings.js'
import { LIMITS } from '../model/limits.js'
import { MINUTE, type Ms } from '../model/time.js'
import { fastClock } from '../runtime/clock.js'
import { fillLine, noticeLine } from './lines.js'
import { logFor, readConfig, type Surroundings, WrongWords } from './words.js'

export type DemoWords = {
  readonly speed: number
  readonly seed: number
  readonly fault: readonly string[]
  readonly port: number
  readonly keep?: string
  readonly logLevel: string
}

/** The invented site's clock at the start of the demo: an evening in May, hours before the first fill. */
const DEMO_START: Ms = Date.UTC(2026, 4, 4, 7)

const BOARDS_START_MS = 1500
/** What a message may take on the machine's own clock; on the fast clock it is many times longer. */
const MESSAGE_WALL_MS = 150
const LATENESS_MAX_MS = 10 * MINUTE

/**
 * `demo`: an invented site, whole: the embedded broker, simulated boards as a program of their own over real MQTT, a
 * store in a folder of its own, the alarms and the page; all on loopback, with no configuration.
 */
export async function demo(words: DemoWords, world: Surroundings): Promise<number> {
  const folder = words.keep ?? mkdtempSync(join(tmpdir(), 'sightglass-demo-'))
  // The place comes to life once its boards have had time to start.
  const wallStart = world.clock.now() + BOARDS_START_MS
  const clock = fastClock(DEMO_START, wallStart, words.speed)
  const brokerPort = await freePort()
  const settings = demoSettings(world.home, folder, brokerPort, await pagePort(words.port))
  let boards: ChildProcess | null = null
  const daemon = await startDaemon({
    settings,
    clock,
    log: logFor(words.logLevel),
    latenessMs: Math.min(LATENESS_MAX_MS, Math.max(LIMITS.latenessMs, words.speed * MESSAGE_WALL_MS)),
    version: world.version,
    pageDir: join(world.home, 'page'),
    onFills: (site, cycles) => {
      for (const cycle of cycles) world.out(`${fillLine(site, cycle)}\n`)
    },
    onNotices: (site, notices) => {
      for (const notice of notices) world.out(`${noticeLine(site, notice)}\n`)
    },
  })
  world.out(`The demo runs ${words.speed} times faster than life. Page: ${daemon.pageAddress}\n`)
  world.out('Ctrl-C ends it. Each fill and each alarm is a line here:\n')
  try {
    boards = startBoards(words, world, { brokerPort, wallStart })
    const ended = new Promise<number>((done) => boards?.on('exit', (code) => done(code ?? 1)))
    const asked = new Promise<null>((done) => {
      if (world.stop.aborted) done(null)
      else world.stop.addEventListener('abort', () => done(null), { once: true })
    })
    const code = await Promise.race([ended, asked])
    if (code === null) return 0
    if (code === 2) throw new WrongWords('--fault: the simulated boards do not know these words (see above)')
    return code
  } finally {
    boards?.kill('SIGTERM')
    await daemon.stop()
    if (words.keep === undefined) rmSync(folder, { recursive: true, force: true })
  }
}

function demoSettings(home: string, folder: string, brokerPort: number, pagePort: number): DaemonSettings {
  const settings = readConfig(join(home, '..', 'config', 'juniper.yaml'))
  return {
    ...settings,
    store: { ...settings.store, file: join(folder, 'sightglass.db') },
    broker: { kind: 'embedded', host: '127.0.0.1', port: brokerPort, tls: null, anonymous: true },
    page: { host: '127.0.0.1', port: pagePort, tls: null, openOnLoopback: true },
  }
}

function startBoards(
  words: DemoWords,
  world: Surroundings,
  { brokerPort, wallStart }: { readonly brokerPort: number; readonly wallStart: Ms },
): ChildProcess {
  const options = ['live', '--url', `mqtt://127.0.0.1:${brokerPort}`, '--site', 'juniper']
  options.push('--seed', String(words.seed), '--speed', String(words.speed))
  options.push('--start', new Date(DEMO_START).toISOString(), '--wall-start', new Date(wallStart).toISOString())
  for (const fault of words.fault) options.push('--fault', fault)
  return spawn(process.execPath, [join(world.home, 'simulators.js'), ...options], {
    stdio: ['ignore', 'ignore', 'inherit'],
  })
}

function freePort(): Promise<number> {
  return tryPort(0).then((port) => port ?? 0)
}

/** The port asked for, or any free one when something listens there already. */
async function pagePort(wanted: number): Promise<number> {
  return (await tryPort(wanted)) ?? freePort()
}

function tryPort(port: number): Promise<number | null> {
  return new Promise((done) => {
    const server = createServer()
    server.once('error', () => done(null))
    server.listen(port, '127.0.0.1', () => {
      const address = server.address()
      const found = typeof address === 'object' && address !== null ? address.port : null
      server.close(() => done(found))
    })
  })
}
