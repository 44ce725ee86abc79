import type { EventEmitter } from 'node:events'
import type { Socket } from 'node:net'
import type { Aedes, AedesOptions, AedesPublishPacket, Client, PublishPacket } from 'aedes'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { Refusals } from './counts.js'
import type { Fifo } from './fifo.js'
import { FrameTooLarge, GuardedSocket } from './frame-guard.js'
import type { Admitted, Gate, TurnedAway } from './gate.js'
import { wordsOf } from './receiver.js'
import { maySubscribe, NO_RIGHTS } from './rules.js'
import { OWN_CLIENT_PREFIX, PROBE_TOPIC, type Tokens } from './self-probe.js'
import type { Takeovers } from './takeovers.js'

/** Makes the broker; a test hands in one that it can break. */
export type MakeBroker = (options: AedesOptions) => Promise<Aedes>

export type BrokerParts = {
  readonly makeBroker: MakeBroker
  readonly gate: Gate
  readonly fifo: Fifo
  readonly tokens: Tokens
  readonly refusals: Refusals
  readonly takeovers: Takeovers
  readonly onTwoBoards: (client: string, takeovers: number, about: { who: string; topic?: string }) => void
  readonly now: () => Ms
  readonly keepaliveMaxS: number
  readonly connectTimeoutMs: number
}

/** One broker, from its making to its end. When it no longer hears, it is thrown away and another one made. */
export type OneBroker = {
  readonly broker: Aedes
  take(socket: Socket): void
  connected(): number
  /** Ends the connections of accounts that are no longer as they were when they came in. */
  sweep(marks: ReadonlyMap<string, string>): void
  /** From now on nothing reaches ingest: the wills of connections that we end ourselves say nothing of the boards. */
  silence(): void
  close(): Promise<void>
}

/** What CONNECT said, kept until the client is known. */
type Greeting = { readonly clientIdProblem: string | null; readonly willTopic: string | null }

/** Already counted where it was found; the broker only closes the connection over it. */
class Refused extends Error {}

export async function openBroker(parts: BrokerParts): Promise<OneBroker> {
  const book: Book = {
    greetings: new WeakMap(),
    admitted: new WeakMap(),
    live: new Map(),
    spoke: new WeakMap(),
    silent: false,
  }
  const broker = await parts.makeBroker({
    connectTimeout: parts.connectTimeoutMs,
    drainTimeout: LIMITS.drainTimeoutMs,
    maxInflightInbound: LIMITS.qos2HeldMax,
    maxClientsIdLength: LIMITS.clientIdCharsMax,
    ...comingIn(parts, book),
    ...publishing(parts, book),
    ...reading(parts, book),
  })
  watch(broker, parts, book)
  return {
    broker,
    take: (socket) => broker.handle(new GuardedSocket(socket)),
    connected: () => [...book.live.values()].filter((client) => book.admitted.get(client)?.probe === false).length,
    sweep(marks) {
      for (const client of book.live.values()) {
        const one = book.admitted.get(client)
        if (one?.account === undefined || marks.get(one.account.name) === one.account.mark) continue
        parts.refusals.add('account', one.who, 'the account was removed or changed while it was connected')
        client.close()
      }
    },
    silence() {
      book.silent = true
    },
    close: () => new Promise((done) => broker.close(() => done())),
  }
}

/** What a broker knows of its clients. */
type Book = {
  readonly greetings: WeakMap<Client, Greeting>
  readonly admitted: WeakMap<Client, Admitted>
  readonly live: Map<string, Client>
  /** The first topic that a client published to. */
  readonly spoke: WeakMap<Client, string>
  silent: boolean
}

function comingIn(parts: BrokerParts, book: Book): Pick<AedesOptions, 'preConnect' | 'authenticate'> {
  return {
    preConnect(client, packet, done) {
      book.greetings.set(client, {
        clientIdProblem: clientIdProblem(packet.clientId),
        willTopic: packet.will?.topic ?? null,
      })
      // What a session would keep lives in this process only, without bound: what people must hear is in the outbox.
      packet.clean = true
      // A longer or absent keepalive would let dead connections stand; no board needs to know that we look earlier.
      packet.keepalive = Math.min(packet.keepalive || parts.keepaliveMaxS, parts.keepaliveMaxS)
      done(null, true)
    },
    authenticate(client, name, password, done) {
      const socket = client.conn
      const remote = socket instanceof GuardedSocket ? socket.remote : ''
      void parts.gate(name ?? null, password ?? Buffer.alloc(0), remote).then((answer) => {
        if (client.closed) return
        const refused = 'code' in answer ? answer : welcome(client, answer, parts, book)
        if (refused !== null) {
          parts.refusals.add(refused.reason, name ?? client.id, refused.what)
          done(Object.assign(new Refused(refused.what), { returnCode: refused.code }), null)
          return
        }
        if (socket instanceof GuardedSocket) socket.widen()
        done(null, true)
      })
    },
  }
}

/** Takes a client whose account is right, or says why not. */
function welcome(client: Client, one: Admitted, parts: BrokerParts, book: Book): TurnedAway | null {
  const greeting = book.greetings.get(client)
  if (greeting !== undefined && greeting.clientIdProblem !== null && !one.probe)
    return { reason: 'client-id', what: greeting.clientIdProblem, code: 2 }
  const will = greeting?.willTopic ?? null
  if (will !== null && !one.rights.publish.has(will))
    return { reason: 'topic', what: `a will to ${will}; expected ${expectedTopics(one)}`, code: 5 }
  const holder = book.live.get(client.id)
  if (holder !== undefined) {
    if (book.admitted.get(holder)?.who !== one.who)
      return { reason: 'client-id', what: `${client.id} is in use by another account`, code: 2 }
    const many = parts.takeovers.note(client.id)
    const topic = book.spoke.get(holder)
    if (many !== null) parts.onTwoBoards(client.id, many, { who: one.who, ...(topic === undefined ? {} : { topic }) })
  }
  book.admitted.set(client, one)
  return null
}

function publishing(parts: BrokerParts, book: Book): Pick<AedesOptions, 'authorizePublish'> {
  const { fifo, refusals } = parts
  return {
    // The one hook that runs before PUBACK; wills come through it, too.
    authorizePublish(client, packet, done) {
      if (book.silent) return done(new Refused('closing'))
      const one = client === null ? undefined : book.admitted.get(client)
      const { topic } = packet
      if (one?.probe && topic === PROBE_TOPIC) {
        parts.tokens.seen(String(packet.payload))
        return done(null)
      }
      if (one === undefined || !one.rights.publish.has(topic)) {
        refusals.add('topic', one?.who ?? 'nobody', `${topic}; expected ${one ? expectedTopics(one) : 'a client'}`)
        return done(new Refused('not a topic of this account'))
      }
      // Nothing of a board's is kept here: a retained level would look alive long after its board died. What comes
      // this way is said now, whatever the board's flag asks a broker to do with it.
      packet.retain = false
      if (client !== null && !book.spoke.has(client)) book.spoke.set(client, topic)
      // A QoS 0 sender waits for no answer: nothing is gained by closing its connection.
      const settled = packet.qos === 0 ? () => done(null) : done
      if (fifo.offer({ at: parts.now(), topic, payload: bytesOf(packet), retain: false }, settled)) return
      refusals.add('queue-full', one.who, `${fifo.held()} messages wait for the store`)
      settled(new Refused('too many messages wait for the store'))
    },
  }
}

function reading(parts: BrokerParts, book: Book): Pick<AedesOptions, 'authorizeSubscribe' | 'authorizeForward'> {
  return {
    authorizeSubscribe(client, subscription, done) {
      const one = book.admitted.get(client)
      if (maySubscribe(one?.rights ?? NO_RIGHTS, subscription.topic)) return done(null, subscription)
      parts.refusals.add('subscription', one?.who ?? 'nobody', subscription.topic)
      // SUBACK with 128 (MQTT 3.1.1, section 3.9.3).
      done(null, null)
    },
    // A reader that is behind misses messages: waiting for it would hold up those who write.
    authorizeForward: (client, packet: AedesPublishPacket) => (client.conn.writableNeedDrain ? null : packet),
  }
}

function watch(broker: Aedes, parts: BrokerParts, book: Book): void {
  const onTrouble = (client: Client, error: Error): void => {
    const who = book.admitted.get(client)?.who ?? client.id ?? 'somebody'
    if (error instanceof FrameTooLarge) parts.refusals.add('frame-too-large', who, error.message)
    else if (!(error instanceof Refused) && !LINK_LOSS.test(error.message))
      parts.refusals.add('protocol', who, error.message)
  }
  broker.on('clientError', onTrouble)
  broker.on('connectionError', onTrouble)
  broker.on('client', (client) => {
    book.live.set(client.id, client)
  })
  broker.on('clientDisconnect', (client) => {
    if (book.live.get(client.id) === client) book.live.delete(client.id)
  })
  // An 'error' nobody listens to ends the process; the probe finds out whether the broker still works. The library's
  // types do not name this event, so it is added by the emitter's own signature.
  const emitter: EventEmitter = broker
  emitter.on('error', (error) => parts.refusals.add('protocol', 'the broker itself', wordsOf(error)))
}

/** Ends of a link that are nobody's fault, as Node and aedes word them. */
const LINK_LOSS =
  /ECONNRESET|EPIPE|ETIMEDOUT|EHOSTUNREACH|keep alive timeout|connection closed|drain timeout|premature close|write after|ended by the other party|stream was destroyed/i

function clientIdProblem(id: string): string | null {
  if (id === '') return 'an empty client id; expected a fixed one for each board'
  if (id.length > LIMITS.clientIdCharsMax) return `a client id of ${id.length} characters`
  return id.startsWith(OWN_CLIENT_PREFIX) ? `a client id that begins with ${OWN_CLIENT_PREFIX}` : null
}

function expectedTopics(one: Admitted): string {
  const topics = [...one.rights.publish]
  if (topics.length === 0) return 'nothing: this account may not publish'
  return topics.length === 1
    ? topics.join()
    : `one of ${topics.slice(0, 5).join(', ')}${topics.length > 5 ? ', …' : ''}`
}

function bytesOf(packet: PublishPacket): Uint8Array {
  return typeof packet.payload === 'string' ? Buffer.from(packet.payload, 'utf8') : packet.payload
}
