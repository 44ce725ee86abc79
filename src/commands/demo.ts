import { type ChildProcess, spawn } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Daemon, startDaemon } from '../daemon/daemon.js'
import type { DaemonSettings } from '../model/settings.js'
import { LIMITS } from '../model/limits.js'
import { DAY, MINUTE, type Ms } from '../model/time.js'
import { type Clock, fastClock } from '../runtime/clock.js'
import { deriveFrom, quietLine } from './derive.js'
import { importCapture } from './import.js'
import { fillLine, noticeLine } from './lines.js'
import { Failed, logFor, ownStore, readConfig, type Surroundings, WrongWords } from './words.js'

export type DemoWords = {
  readonly speed: number
  readonly seed: number
  readonly past: number
  readonly fault: readonly string[]
  readonly port: number
  readonly keep?: string
  readonly logLevel: string
}

/** The invented site's first day: a Monday in May, from midnight there. */
const FIRST_DAY: Ms = Date.UTC(2026, 4, 4, 7)

/** What the boards are given to connect in before the site's time goes on. */
const ON_AIR_MS = 1_000
/** What a message may take on the machine's own clock; on the fast clock it is many times longer. */
const MESSAGE_WALL_MS = 150
const LATENESS_MAX_MS = 10 * MINUTE
/** Fills of the past that are printed, of at most so many. */
const EARLIER = 3
const FILLS_MAX = 1_000

/**
 * `demo`: an invented site, whole: the embedded broker, simulated boards as a program of their own over real MQTT, a
 * store in a folder of its own, the alarms and the page; all on loopback, with no configuration. The site has lived
 * some days before, so that its fills are known and its page has something to show.
 */
export async function demo(words: DemoWords, world: Surroundings): Promise<number> {
  const folder = words.keep ?? mkdtempSync(join(tmpdir(), 'sightglass-demo-'))
  mkdirSync(folder, { recursive: true })
  const brokerPort = await freePort()
  const settings = demoSettings(world.home, folder, brokerPort, await pagePort(words.port))
  if (existsSync(settings.store.file))
    throw new WrongWords(`--keep ${folder}: holds a demo already; name another folder`)
  const past = join(folder, 'past.ndjson')
  const boards = startBoards(words, world, { brokerPort, past })
  let daemon: Daemon | null = null
  try {
    world.out(`The site lives its first ${Math.round(words.past)} days …\n`)
    if (!(await livedPast(boards, world))) return boardsEnded(boards, world)
    const earlier = takePast(settings, past, words, world)
    const start = FIRST_DAY + Math.round(words.past * DAY)
    const wallStart = world.clock.now() + ON_AIR_MS
    daemon = await startDemoDaemon(settings, fastClock(start, wallStart, words.speed), words, world)
    world.out(`The demo runs ${words.speed} times faster than life. Page: ${daemon.pageAddress}\n`)
    world.out('Ctrl-C ends it. Each fill and each alarm is a line here; these were the last fills before:\n')
    for (const line of earlier) world.out(`${line}\n`)
    boards.send(wallStart)
    await endOf(boards, world)
    return boardsEnded(boards, world)
  } finally {
    boards.kill('SIGTERM')
    await daemon?.stop()
    if (words.keep === undefined) rmSync(folder, { recursive: true, force: true })
  }
}

function startDemoDaemon(
  settings: DaemonSettings,
  clock: Clock,
  words: DemoWords,
  world: Surroundings,
): Promise<Daemon> {
  return startDaemon({
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
}

/** The days before, as the boards have told them, into the store: as an import does it. Answers its last fills. */
function takePast(settings: DaemonSettings, file: string, words: DemoWords, world: Surroundings): readonly string[] {
  const store = ownStore(settings, world)
  try {
    const line = quietLine(settings, store, words.logLevel)
    importCapture(file, line, store, world, new Map())
    deriveFrom(line, store, new Map(settings.sites.map((site) => [site.id, FIRST_DAY])), world)
    return settings.sites.flatMap((site) =>
      store.cycles
        .list(site.id, 0, Number.MAX_SAFE_INTEGER, FILLS_MAX)
        .slice(-EARLIER)
        .map((cycle) => fillLine(site, cycle)),
    )
  } finally {
    store.close()
    rmSync(file, { force: true })
  }
}

/** True once the boards have told what is past; false when they or the demo end before that. */
function livedPast(boards: ChildProcess, world: Surroundings): Promise<boolean> {
  const told = new Promise<boolean>((done) => boards.once('message', () => done(true)))
  return Promise.race([told, endOf(boards, world).then(() => false)])
}

/** Resolves when the boards have ended, or the demo is asked to. */
async function endOf(boards: ChildProcess, { stop }: Surroundings): Promise<void> {
  if (boards.exitCode !== null || stop.aborted) return
  await new Promise<void>((done) => {
    boards.once('exit', () => done())
    stop.addEventListener('abort', () => done(), { once: true })
  })
}

function boardsEnded(boards: ChildProcess, { stop }: Surroundings): number {
  if (stop.aborted) return 0
  if (boards.exitCode === 2) throw new WrongWords('--fault: the simulated boards do not know these words (see above)')
  throw new Failed(`the simulated boards have ended (${boards.exitCode ?? boards.signalCode})`)
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

/** The boards; faults are told from the moment on at which the demo begins. */
function startBoards(
  words: DemoWords,
  world: Surroundings,
  { brokerPort, past }: { readonly brokerPort: number; readonly past: string },
): ChildProcess {
  const options = ['live', '--site', 'juniper', '--seed', String(words.seed), '--speed', String(words.speed)]
  options.push('--url', `mqtt://127.0.0.1:${brokerPort}`, '--start', new Date(FIRST_DAY).toISOString())
  options.push('--past', String(words.past), '--past-file', past)
  for (const fault of words.fault) options.push('--fault', fault.replace('@', `@${words.past}d`))
  return spawn(process.execPath, [join(world.home, 'simulators.js'), ...options], {
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
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
