import { connect as connectTcp, type Socket } from 'node:net'
import mqtt, { type IClientOptions, type MqttClient } from 'mqtt'
import { onTestFinished } from 'vitest'
import type { Arrival } from '../../src/model/sample.js'
import type { Ms } from '../../src/model/time.js'
import { type EmbeddedOptions, startEmbedded } from '../../src/receive/embedded.js'
import type { Log, ReceiveEvent, Receiver, Settle, Timers } from '../../src/receive/receiver.js'
import type { Account, BoardRule } from '../../src/receive/rules.js'

/** What the receivers' tests share: an invented site, an ingest that a test settles by hand, clients. */

export const BOARDS: readonly BoardRule[] = [
  { site: 'juniper', board: 'tank-board', topics: ['water/juniper/tank-board', 'meters/tank/level'] },
  { site: 'juniper', board: 'pump-board', topics: ['water/juniper/pump-board'] },
  { site: 'fern', board: 'pump-board', topics: ['water/fern/pump-board'] },
]

const ACCOUNTS: Readonly<Record<string, Account>> = {
  'tank-board': { name: 'tank-board', role: 'board', site: 'juniper' },
  'pump-board': { name: 'pump-board', role: 'board', site: 'juniper' },
  ops: { name: 'ops', role: 'owner' },
  neighbour: { name: 'neighbour', role: 'viewer', site: 'juniper' },
}
export const PASSWORD = 'lupine'

export type Taken = { readonly arrival: Arrival; readonly text: string; readonly settle: Settle }

/** Takes messages and settles them when told to, or at once. */
export function handIngest(atOnce = false): {
  taken: Taken[]
  ingest: (a: Arrival, s: Settle) => void
  settleAll(): void
} {
  const taken: Taken[] = []
  return {
    taken,
    ingest(arrival, settle) {
      taken.push({ arrival, text: Buffer.from(arrival.payload).toString('utf8'), settle })
      if (atOnce) settle(null)
    },
    settleAll() {
      for (const { settle } of taken) settle(null)
    },
  }
}

export type Said = { readonly level: 'info' | 'warn' | 'error'; readonly about: object; readonly words: string }

export function listLog(): { log: Log; said: Said[] } {
  const said: Said[] = []
  const note =
    (level: Said['level']) =>
    (about: object, words: string): void => {
      said.push({ level, about, words })
    }
  return { said, log: { info: note('info'), warn: note('warn'), error: note('error') } }
}

/** Real timers, but `every` of the given length runs only when the test says `tick`. */
export function drivenTimers(everyMs: number): { timers: Timers; tick(): void } {
  let acts: (() => void)[] = []
  return {
    tick: () => {
      for (const act of acts) act()
    },
    timers: {
      every(ms, act) {
        if (ms === everyMs) {
          acts.push(act)
          return () => {
            acts = acts.filter((each) => each !== act)
          }
        }
        const timer = setInterval(act, ms)
        return () => clearInterval(timer)
      },
      after(ms, act) {
        const timer = setTimeout(act, ms)
        return () => clearTimeout(timer)
      },
    },
  }
}

export type Embedded = Receiver & { readonly port: number; readonly events: ReceiveEvent[]; readonly said: Said[] }

/** A broker on a free loopback port with the accounts above; closed when the test ends. */
export async function embedded(options: Partial<EmbeddedOptions> = {}, now: () => Ms = Date.now): Promise<Embedded> {
  const events: ReceiveEvent[] = []
  const { log, said } = listLog()
  const receiver = await startEmbedded({
    settings: { kind: 'embedded', host: '127.0.0.1', port: 0, tls: null, anonymous: false },
    boards: BOARDS,
    verify: (name, password) => Promise.resolve(password === PASSWORD ? (ACCOUNTS[name] ?? null) : null),
    ingest: (_arrival, settle) => settle(null),
    now,
    log,
    onEvent: (event) => events.push(event),
    ...options,
  })
  onTestFinished(() => receiver.close())
  const port = Number(/:(\d+)/.exec(receiver.address())?.[1])
  return { ...bound(receiver), port, events, said }
}

function bound(receiver: Receiver): Receiver {
  return {
    address: () => receiver.address(),
    stats: () => receiver.stats(),
    publish: (topic, payload, options) => receiver.publish(topic, payload, options),
    close: () => receiver.close(),
  }
}

/** A client that does not connect again by itself; ended when the test ends. */
export function client(port: number, options: IClientOptions = {}): MqttClient {
  const name = options.username ?? 'tank-board'
  const one = mqtt.connect({
    host: '127.0.0.1',
    port,
    clientId: name,
    username: name,
    password: PASSWORD,
    reconnectPeriod: 0,
    ...options,
  })
  one.on('error', () => {})
  onTestFinished(() => {
    one.end(true)
  })
  return one
}

export function connected(one: MqttClient): Promise<MqttClient> {
  return new Promise((resolve, reject) => {
    one.once('connect', () => resolve(one))
    one.once('error', reject)
    one.once('close', () => reject(new Error('closed before it was connected')))
  })
}

export function closed(one: MqttClient | Socket): Promise<void> {
  return new Promise((resolve) => {
    if ('destroyed' in one && one.destroyed) resolve()
    else (one as Socket).once('close', () => resolve())
  })
}

/** A bare TCP connection, for what no honest client does. */
export async function socketTo(port: number): Promise<Socket> {
  const socket = connectTcp(port, '127.0.0.1')
  socket.on('error', () => {})
  onTestFinished(() => {
    socket.destroy()
  })
  await new Promise((resolve) => socket.once('connect', resolve))
  return socket
}

/** A UTF-8 string as MQTT 3.1.1 writes it (section 1.5.3): two bytes of length, then the bytes. */
function field(text: string): Buffer {
  const bytes = Buffer.from(text, 'utf8')
  return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 255]), bytes])
}

/** CONNECT, written by hand from MQTT 3.1.1, section 3.1: clean session, and name and password where given. */
export function connectBytes(clientId: string, keepaliveS: number, name?: string): Buffer {
  const flags = name === undefined ? 0x02 : 0xc2
  const head = Buffer.concat([field('MQTT'), Buffer.from([4, flags, keepaliveS >> 8, keepaliveS & 255])])
  const account = name === undefined ? [] : [field(name), field(PASSWORD)]
  return packet(0x10, Buffer.concat([head, field(clientId), ...account]))
}

/** PUBLISH at QoS 0, written by hand from MQTT 3.1.1, section 3.3. */
export function publishBytes(topic: string, payload: string): Buffer {
  return packet(0x30, Buffer.concat([field(topic), Buffer.from(payload)]))
}

/** A short packet: one byte of remaining length. */
function packet(type: number, body: Buffer): Buffer {
  if (body.length > 127) throw new Error('too long for one byte of length')
  return Buffer.concat([Buffer.from([type, body.length]), body])
}

/** Turns of the event loop until it holds: for sockets, whose time is not ours to hand in. Fails after 20 s. */
export async function until(holds: () => boolean, what = 'the condition'): Promise<void> {
  const end = Date.now() + 20_000
  while (!holds()) {
    if (Date.now() > end) throw new Error(`${what} did not come to hold`)
    await new Promise((resolve) => setTimeout(resolve, 5))
  }
}

/** Enough turns for anything that was going to come over loopback. */
export async function quiet(): Promise<void> {
  await new Promise((resolve) => setTimeout(resolve, 60))
}
