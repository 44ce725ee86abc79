/**
 * An outside broker (Debian's mosquitto): the daemon beside a script that commits each message, one after the other in
 * the same broker with its usual settings but for the length of its queue. The broker acknowledges to the boards by
 * itself, so what is measured is how fast its messages become durable: a given number of them, from the first commit to
 * the last.
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { metric, startRun, stopRun, until } from './backlog.js'
import { generate } from './embedded.js'
import type { Load } from './generator.js'
import { Child, freePort, pause } from './processes.js'

export type OutsideOptions = {
  readonly mosquitto: string
  readonly python: string
  readonly connections: number
  /** Messages that the broker has under way to one subscriber; 20 unless configured. */
  readonly inFlight: number
}

/** A Python that has the client library of the script; null, and a line that says how to get it, where none has. */
export function pythonWithClient(): string | null {
  // Debian's library belongs to Debian's Python, which need not be the first on the path.
  for (const python of ['/usr/bin/python3', 'python3']) {
    if (spawnSync(python, ['-c', 'import paho.mqtt.client, sqlite3']).status === 0) return python
  }
  const words = 'skipped: no Python has paho.mqtt (apt-get install python3-paho-mqtt)'
  if (process.env.CI) throw new Error(words)
  process.stderr.write(`${words}\n`)
  return null
}

/** Some five seconds' worth of each. */
const DAEMON_MESSAGES = 150_000
const SCRIPT_MESSAGES = 15_000
const LONGEST_MS = 120_000

async function withBroker<T>(options: OutsideOptions, work: (port: number, folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-bench-'))
  const port = await freePort()
  // The queue must hold what the slower of the two has not taken yet; the usual 1,000 would drop the rest.
  const settings = [
    `listener ${port} 127.0.0.1`,
    'allow_anonymous true',
    'persistence false',
    'log_dest none',
    'max_queued_messages 0',
    `max_inflight_messages ${options.inFlight}`,
  ]
  const file = join(folder, 'mosquitto.conf')
  writeFileSync(file, `${settings.join('\n')}\n`)
  const broker = new Child(options.mosquitto, ['-c', file])
  try {
    await until(10_000, () => listens(port))
    return await work(port, folder)
  } finally {
    await broker.end('signal')
    rmSync(folder, { recursive: true, force: true })
  }
}

function listens(port: number): Promise<boolean> {
  return new Promise((done) => {
    const socket = connect(port, '127.0.0.1')
    const say = (is: boolean): void => {
      socket.destroy()
      done(is)
    }
    socket.once('connect', () => say(true))
    socket.once('error', () => say(false))
  })
}

function loadOf(port: number, options: OutsideOptions, messages: number): Load {
  const { connections } = options
  const startMs = Date.now() - 86_400_000
  return {
    port,
    connections,
    window: 50,
    warmUpMs: 0,
    measureMs: LONGEST_MS,
    messagesMax: messages,
    times: { kind: 'steps', startMs, stepMs: 1_000 },
  }
}

/** Messages a second that the daemon makes durable. */
export function daemonOutside(program: string, options: OutsideOptions): Promise<number> {
  return withBroker(options, async (port) => {
    const running = await startRun(program, { sites: options.connections, externalPort: port })
    try {
      await until(30_000, async () => (await metric(running, 'sightglass_connections')) > 0)
      const taken = (): Promise<number> => metric(running, 'sightglass_messages_total')
      const sending = generate(loadOf(port, options, DAEMON_MESSAGES))
      await until(LONGEST_MS, async () => (await taken()) > 0)
      const [before, began] = [await taken(), performance.now()]
      await until(LONGEST_MS, async () => (await taken()) >= DAEMON_MESSAGES)
      const seconds = (performance.now() - began) / 1000
      await sending
      const refused = await metric(running, 'sightglass_records_refused_total')
      if (refused > 0) throw new Error(`${refused} records were refused, expected none`)
      return (DAEMON_MESSAGES - before) / seconds
    } finally {
      await stopRun(running)
    }
  })
}

/** Messages a second that the script makes durable. */
export function scriptOutside(options: OutsideOptions): Promise<number> {
  return withBroker(options, async (port, folder) => {
    const file = new URL('per-message.py', import.meta.url).pathname
    const words = [file, String(port), join(folder, 'script.db'), 'water/#', String(SCRIPT_MESSAGES)]
    const script = new Child(options.python, words)
    try {
      await script.line()
      const sending = generate(loadOf(port, options, SCRIPT_MESSAGES))
      await script.line()
      const began = performance.now()
      await script.line(LONGEST_MS)
      const seconds = (performance.now() - began) / 1000
      await sending
      await pause(50)
      return (SCRIPT_MESSAGES - 1) / seconds
    } finally {
      await script.end('signal')
    }
  })
}
