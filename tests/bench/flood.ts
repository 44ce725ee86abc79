/**
 * A link that comes back after three days: what the boards kept goes up within a minute, in any order, into a daemon that
 * is up and running. Measured is how long its event loop is kept from anything else meanwhile, deriving included.
 */
import { spawn } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import mqtt, { type MqttClient } from 'mqtt'
import { Random } from '../../simulators/random.js'
import { type SimulateOptions, simulate } from '../../simulators/simulate.js'
import { DAY, HOUR, SECOND } from '../../src/model/time.js'
import { exampleFile } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import type { FloodCounts, FloodEnd, FloodOptions } from './flood-daemon.js'

export const FLOOD_MESSAGES = 26_000
const WINDOW = 100
const DERIVE_MS_MAX = 120_000

export type Kept = { readonly at: number; readonly topic: string; readonly payload: string }

export type FloodSetup = {
  readonly program: string | null
  readonly count: number
  /** So long the messages take, evenly; 0: as fast as they are taken. */
  readonly spreadMs: number
  readonly seed: number
  readonly startMs: number
  readonly faults?: SimulateOptions['faults']
}

export type FloodResult = {
  readonly counts: FloodCounts
  readonly end: FloodEnd & { readonly now: number }
  readonly tookMs: number
  /** The same delay while nothing was to be done, just before: what the machine itself keeps a process waiting. */
  readonly idleP99Ms: number
  /** In the order of their times, as they would have come. */
  readonly kept: readonly Kept[]
}

/** What the boards of juniper kept over three days, thinned evenly to so many messages; ends a little before `startMs`. */
export function keptMessages({ count, startMs, faults }: FloodSetup): readonly Kept[] {
  const made = [
    ...simulate({
      site: 'juniper',
      seed: 11,
      startMs: startMs - 3 * DAY - HOUR,
      days: 3,
      ...(faults === undefined ? {} : { faults }),
    }).messages,
  ]
  const every = made.length / count
  return Array.from({ length: Math.min(count, made.length) }, (_, i) => made[Math.floor(i * every)]).flatMap((one) =>
    one === undefined ? [] : [{ at: one.at, topic: one.topic, payload: String(one.payload) }],
  )
}

export async function flood(setup: FloodSetup): Promise<FloodResult> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-flood-'))
  const port = await freePort()
  const config = exampleFile(folder, 'juniper', {
    broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
    page: { host: '127.0.0.1', port: await freePort() },
    tell: { people: [], ways: {}, self_test: 'never' },
  })
  const kept = keptMessages(setup)
  const child = startChild({ program: setup.program, config, startMs: setup.startMs })
  try {
    await child.ready
    const client = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`, { clientId: 'flood', reconnectPeriod: 0 })
    // The boards talk again first: what is so now is known before the past comes.
    for (const [topic, records] of nowOf(setup.startMs)) await client.publishAsync(topic, records, { qos: 1 })
    await child.ask(`shift ${30 * SECOND}`)
    await child.ask('loop')
    await new Promise((resolve) => setTimeout(resolve, 1_500))
    const idle = (await child.ask('counts')) as FloodCounts
    await child.ask('loop')
    const began = performance.now()
    await send(client, shuffled(kept, setup.seed), setup.spreadMs)
    const tookMs = performance.now() - began
    await child.ask(`shift ${40 * SECOND}`)
    for (const end = performance.now() + DERIVE_MS_MAX; ; ) {
      await new Promise((resolve) => setTimeout(resolve, 200))
      const counts = (await child.ask('counts')) as FloodCounts
      // A flood is over when nothing has come for a while; then the days are derived, and the site stands in the present.
      if (!counts.goingBack && counts.late > 0) break
      if (performance.now() > end) throw new Error(`not derived: ${JSON.stringify(counts)}`)
    }
    const counts = (await child.ask('counts')) as FloodCounts
    const end = (await child.ask('end')) as FloodResult['end']
    await client.endAsync(true)
    return { counts, end, tookMs, kept, idleP99Ms: idle.delayP99Ms }
  } finally {
    await child.stop()
    rmSync(folder, { recursive: true, force: true })
  }
}

/** One reading of each board at this moment. */
export function nowOf(at: number): readonly (readonly [topic: string, pack: string])[] {
  const pack = (records: readonly (readonly [n: string, u: string, v: number])[]): string =>
    JSON.stringify(records.map(([n, u, v]) => ({ n, u, v, t: at / SECOND })))
  return [
    ['water/juniper/tank-board', pack([['tank-level', 'm', 1]])],
    [
      'water/juniper/pump-board',
      pack([
        ['pump-current', 'A', 0],
        ['battery-voltage', 'V', 26.4],
      ]),
    ],
    ['water/juniper/house-board', pack([['house-pump-current', 'A', 0]])],
  ]
}

export function shuffled<T>(list: readonly T[], seed: number): T[] {
  const random = new Random(seed, 'flood')
  return list
    .map((one) => ({ one, key: random.next() }))
    .sort((a, b) => a.key - b.key)
    .map(({ one }) => one)
}

async function send(client: MqttClient, messages: readonly Kept[], spreadMs: number): Promise<void> {
  const began = performance.now()
  for (let i = 0; i < messages.length; i += WINDOW) {
    const due = began + (i / messages.length) * spreadMs
    const wait = due - performance.now()
    if (wait > 1) await new Promise((resolve) => setTimeout(resolve, wait))
    const some = messages.slice(i, i + WINDOW)
    await Promise.all(some.map(({ topic, payload }) => client.publishAsync(topic, payload, { qos: 1 })))
  }
}

function startChild(options: FloodOptions) {
  const program = fileURLToPath(new URL('./flood-daemon.ts', import.meta.url))
  const child = spawn(process.execPath, ['--import', 'tsx', program, JSON.stringify(options)], {
    stdio: ['pipe', 'pipe', 'inherit'],
  })
  const waiting: ((line: string) => void)[] = []
  const gone = new Promise<never>((_, reject) => child.once('exit', (code) => reject(new Error(`it ended: ${code}`))))
  gone.catch(() => {})
  createInterface({ input: child.stdout }).on('line', (line) => waiting.shift()?.(line))
  const next = (): Promise<string> => Promise.race([new Promise<string>((resolve) => waiting.push(resolve)), gone])
  const ready = next()
  return {
    ready,
    async ask(words: string): Promise<unknown> {
      const answer = next()
      child.stdin.write(`${words}\n`)
      return JSON.parse(await answer)
    },
    async stop(): Promise<void> {
      if (child.exitCode !== null || child.signalCode !== null) return
      const exited = new Promise<void>((resolve) => child.once('exit', () => resolve()))
      child.stdin.end()
      const late = setTimeout(() => child.kill('SIGKILL'), 10_000)
      await exited
      clearTimeout(late)
    },
  }
}
