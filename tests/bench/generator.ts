/**
 * The load generator, a process of its own: `node --import tsx tests/bench/generator.ts '{…}'` with the JSON of
 * `Load`. Raw sockets on loopback, one board each, a fixed number of QoS 1 messages in flight a connection; stops by
 * itself. Prints one JSON line, `Outcome`.
 */
import { once } from 'node:events'
import { connect, type Socket } from 'node:net'
import { BoardLife } from './board-life.js'
import { boardId, topicOf } from './bench-sites.js'
import { connectPacket, publishTemplate } from './packets.js'

export type Load = {
  readonly port: number
  readonly connections: number
  /** Messages in flight a connection. */
  readonly window: number
  readonly warmUpMs: number
  readonly measureMs: number
  /** Never more than this, whatever the time. */
  readonly messagesMax: number
  /**
   * `steps`: the messages of one board are `stepMs` apart, from `startMs` on, whatever the machine's clock says.
   * `now`: the machine's clock, a millisecond a message at least.
   */
  readonly times:
    | { readonly kind: 'steps'; readonly startMs: number; readonly stepMs: number }
    | { readonly kind: 'now' }
}

export type Outcome = {
  readonly sent: number
  readonly acknowledged: number
  /** Acknowledged within the measured time, and that time. */
  readonly measured: number
  readonly seconds: number
  /** From the first message to the last acknowledgement. */
  readonly wholeSeconds: number
  /** Messages that were still not acknowledged when the wait for the last ones was over. */
  readonly missing: number
}

const LAST_WAIT_MS = 20_000
const PUBACK = 0x40
const PUBACK_BYTES = 4
const CONNACK_BYTES = 4

type State = { sent: number; acknowledged: number; sending: boolean }

class Connection {
  readonly socket: Socket
  readonly #load: Load
  readonly #state: State
  readonly #template: ReturnType<typeof publishTemplate>
  readonly #life: BoardLife
  readonly #number: number
  #packetId = 0
  #lastMs = 0
  #rest = 0
  #type = 0

  constructor(load: Load, state: State, number: number) {
    this.#load = load
    this.#state = state
    this.#number = number
    this.#template = publishTemplate(topicOf(number), boardId(number))
    this.#life = new BoardLife(number)
    this.socket = connect({ port: load.port, host: '127.0.0.1', noDelay: true })
  }

  async open(): Promise<void> {
    if (this.socket.connecting) await once(this.socket, 'connect')
    this.socket.write(connectPacket(`bench-${this.#number}`))
    const [answer] = (await once(this.socket, 'data')) as [Buffer]
    if (answer.length !== CONNACK_BYTES || answer[0] !== 0x20 || answer[3] !== 0)
      throw new Error(`connection ${this.#number}: found ${answer.toString('hex')}, expected a CONNACK that accepts`)
    this.socket.on('data', (bytes: Buffer) => this.#acknowledged(bytes))
  }

  send(count: number): void {
    const { bytes } = this.#template
    const state = this.#state
    const room = Math.min(count, this.#load.messagesMax - state.sent)
    if (!state.sending || room <= 0) return
    const buffer = Buffer.allocUnsafe(bytes * room)
    for (let i = 0; i < room; i++) {
      const timeMs = this.#time()
      this.#packetId = (this.#packetId % 65_535) + 1
      this.#template.write(buffer, i * bytes, this.#packetId, timeMs, this.#life.at(timeMs))
      state.sent++
    }
    this.socket.write(buffer)
  }

  #time(): number {
    const { times, connections } = this.#load
    if (times.kind === 'steps') {
      // All boards share one passing time, so that none falls behind the others by more than what is in flight.
      const shared = times.startMs + Math.round((this.#state.sent * times.stepMs) / connections)
      this.#lastMs = Math.max(this.#lastMs + 1, shared)
    } else this.#lastMs = Math.max(this.#lastMs + 1, Date.now())
    return this.#lastMs
  }

  #acknowledged(bytes: Buffer): void {
    let count = 0
    for (let i = 0; i < bytes.length; i++) {
      if (this.#rest === 0) this.#type = bytes[i] ?? 0
      if (this.#rest === 0 && this.#type !== PUBACK) throw new Error(`found packet type ${this.#type}, expected PUBACK`)
      this.#rest = (this.#rest + 1) % PUBACK_BYTES
      if (this.#rest === 0) count++
    }
    this.#state.acknowledged += count
    this.send(count)
  }
}

function pause(ms: number): Promise<void> {
  return new Promise((done) => setTimeout(done, ms))
}

async function generate(load: Load): Promise<Outcome> {
  const state: State = { sent: 0, acknowledged: 0, sending: true }
  const connections = Array.from({ length: load.connections }, (_, number) => new Connection(load, state, number))
  for (const connection of connections) await connection.open()
  const first = performance.now()
  for (const connection of connections) connection.send(load.window)
  await pause(load.warmUpMs)
  const before = state.acknowledged
  const began = performance.now()
  const whole = (): boolean => state.sent >= load.messagesMax && state.acknowledged >= state.sent
  while (performance.now() - began < load.measureMs && !whole()) await pause(20)
  const measured = state.acknowledged - before
  const seconds = (performance.now() - began) / 1000
  state.sending = false
  const stopped = performance.now()
  while (state.acknowledged < state.sent && performance.now() - stopped < LAST_WAIT_MS) await pause(20)
  const wholeSeconds = (performance.now() - first) / 1000
  for (const connection of connections) connection.socket.destroy()
  const { sent, acknowledged } = state
  return { sent, acknowledged, measured, seconds, wholeSeconds, missing: sent - acknowledged }
}

process.stdout.write(`${JSON.stringify(await generate(JSON.parse(process.argv[2] ?? '{}') as Load))}\n`)
