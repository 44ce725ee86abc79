import { randomUUID } from 'node:crypto'
import { readFileSync } from 'node:fs'
import mqtt, { type IClientOptions } from 'mqtt'
import { LIMITS } from '../model/limits.js'
import type { BrokerSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { createRefusals, limitedWarn, type Refusals } from './counts.js'
import { openSession, type Session } from './external-session.js'
import { createFifo, type Fifo } from './fifo.js'
import {
  type Ingest,
  type Log,
  ReceiveError,
  type ReceiveEvent,
  type Receiver,
  type ReceiverStats,
  systemTimers,
  type Timers,
  wordsOf,
} from './receiver.js'
import { calledBackWithin, doneWithin, holdsWithin } from './waiting.js'

export type ExternalOptions = {
  readonly settings: Extract<BrokerSettings, { kind: 'external' }>
  /** Topics or filters to take, at QoS 1. */
  readonly topics: readonly string[]
  readonly ingest: Ingest
  readonly now: () => Ms
  /** Uniform in [0, 1): spreads the tries of many daemons to reach one broker. */
  readonly random: () => number
  readonly log: Log
  readonly onEvent?: (event: ReceiveEvent) => void
  readonly timers?: Timers
  /** Narrower bounds, for tests. */
  readonly limits?: Partial<ExternalLimits>
}

export type ExternalLimits = {
  readonly ingestQueueMax: number
  readonly externalHeldMax: number
  readonly reconnectFirstMs: number
  readonly reconnectLastMs: number
  readonly heartbeatMs: number
  readonly heartbeatMissesMax: number
  readonly publishDeadlineMs: number
}

/**
 * Takes messages from a broker that is there already (MQTT 3.1.1). The session is kept by the broker under a fixed
 * client id, so that what comes while we are away waits there. PUBACK leaves only after `settle(null)`; after
 * `settle(error)` the connection is ended and made again, for only then does a broker deliver a message again.
 *
 * Our own heartbeat must come back: `LIMITS.heartbeatMissesMax` misses in a row make a new connection. Where the
 * broker does not let us have a heartbeat topic, that is said once, and keepalive alone watches the link.
 * Returns before the broker is reached; throws ReceiveError only for what waiting cannot mend.
 */
export async function startExternal(options: ExternalOptions): Promise<Receiver> {
  checkUrl(options.settings.url)
  const receiver = new ExternalReceiver(options)
  receiver.start()
  return receiver
}

class ExternalReceiver implements Receiver {
  readonly #options: ExternalOptions
  readonly #limits: ExternalLimits
  readonly #timers: Timers
  readonly #fifo: Fifo
  readonly #refusals: Refusals
  readonly #warn: ReturnType<typeof limitedWarn>
  readonly #clientOptions: IClientOptions
  readonly #heartbeatTopic: string
  #session: Session | null = null
  /** When the connection now standing was made; null while there is none. */
  #upAt: Ms | null = null
  readonly #publishing = new Set<(error: Error) => void>()
  #tries = 0
  #restarts = 0
  #token: string | null = null
  /** Whether a heartbeat has ever come back: before, a missing one may be the broker's rules. */
  #heard = false
  #misses = 0
  #provedAt: Ms | null = null
  #closed = false
  #stopHeartbeat: () => void = () => {}
  #stopWaiting: () => void = () => {}

  constructor(options: ExternalOptions) {
    const { settings, now, log } = options
    this.#options = options
    this.#limits = { ...LIMITS, ...options.limits }
    this.#timers = options.timers ?? systemTimers
    this.#fifo = createFifo(options.ingest, this.#limits.ingestQueueMax)
    this.#refusals = createRefusals(now, log, (event) => options.onEvent?.(event))
    this.#warn = limitedWarn(now, log)
    this.#heartbeatTopic = `sightglass/${settings.clientId}/heartbeat`
    this.#clientOptions = {
      clientId: settings.clientId,
      clean: false,
      keepalive: LIMITS.keepaliveS,
      connectTimeout: LIMITS.connectTimeoutMs,
      // Each connection is a client of its own, made by us after a wait of our own.
      reconnectPeriod: 0,
      resubscribe: false,
      queueQoSZero: false,
      ...(settings.username === null ? {} : { username: settings.username }),
      ...(settings.password === null ? {} : { password: settings.password }),
      ...(settings.caFile === null ? {} : { ca: readCa(settings.caFile) }),
    }
  }

  start(): void {
    this.#connect()
    this.#stopHeartbeat = this.#timers.every(this.#limits.heartbeatMs, () => this.#beat())
  }

  address(): string {
    return withoutPassword(this.#options.settings.url)
  }

  stats(): ReceiverStats {
    return {
      connected: this.#upAt === null ? 0 : 1,
      ...this.#fifo.counts(),
      held: this.#fifo.held(),
      takeovers: 0,
      restarts: this.#restarts,
      misses: this.#misses,
      provedAt: this.#provedAt,
      refused: this.#refusals.counts(),
    }
  }

  async publish(topic: string, payload: string | Uint8Array, options: { retain?: boolean } = {}): Promise<void> {
    const client = this.#session?.client
    if (client === undefined || this.#upAt === null) throw new Error(`${this.address()} is not connected`)
    const bytes = typeof payload === 'string' ? Buffer.from(payload, 'utf8') : Buffer.from(payload)
    await calledBackWithin(
      (done) => {
        // The library keeps such a message for a later connection; ours is another client, so it fails with this one.
        this.#publishing.add(done)
        client.publish(topic, bytes, { qos: 1, retain: options.retain ?? false }, (error) => {
          this.#publishing.delete(done)
          done(error)
        })
      },
      this.#limits.publishDeadlineMs,
      this.#timers,
      `publish to ${topic}`,
    )
  }

  async close(): Promise<void> {
    if (this.#closed) return
    this.#closed = true
    this.#stopHeartbeat()
    this.#stopWaiting()
    if (this.#upAt !== null) await holdsWithin(() => this.#fifo.held() === 0, LIMITS.closeWaitMs, this.#timers)
    const client = this.#session?.client
    if (client === undefined) return
    if (this.#upAt !== null) await doneWithin(client.endAsync(), LIMITS.closeWaitMs, this.#timers)
    this.#session?.end()
  }

  #connect(): void {
    const { settings, topics, now, onEvent, log } = this.#options
    const client = mqtt.connect(settings.url, { ...this.#clientOptions })
    const session = openSession({
      client,
      fifo: this.#fifo,
      heldMax: this.#limits.externalHeldMax,
      now,
      topics,
      heartbeatTopic: this.#heartbeatTopic,
      onUp: () => {
        this.#upAt = now()
        this.#misses = 0
        this.#token = null
        log.info({ broker: this.address() }, 'connected to the broker')
        onEvent?.({ kind: 'connected', at: now() })
      },
      onDown: (why) => this.#down(why),
      onHeartbeat: (token) => {
        if (token !== this.#token) return
        this.#token = null
        this.#heard = true
        this.#misses = 0
        this.#provedAt = now()
      },
      onSettled: () => this.#session?.resume(),
      onRefusedTopics: (refused) => {
        for (const topic of refused) this.#refusals.add('subscription', settings.clientId, topic)
      },
    })
    this.#session = session
  }

  #down(why: string): void {
    const { now, onEvent, random } = this.#options
    const at = now()
    // A connection that held for a while was a good one; one that falls at once is tried again ever more slowly.
    if (this.#upAt !== null && at - this.#upAt >= this.#limits.heartbeatMs) this.#tries = 0
    const wasUp = this.#upAt !== null
    this.#upAt = null
    this.#session = null
    for (const fail of this.#publishing) fail(new Error(`the connection was lost: ${why}`))
    this.#publishing.clear()
    if (this.#closed) return
    if (wasUp) onEvent?.({ kind: 'disconnected', at, why })
    const { reconnectFirstMs, reconnectLastMs } = this.#limits
    const whole = Math.min(reconnectFirstMs * 2 ** this.#tries, reconnectLastMs)
    this.#tries++
    const waitMs = Math.round(whole * (0.5 + random() / 2))
    this.#warn('down', { broker: this.address(), why, waitMs }, 'no connection to the broker; trying again')
    this.#stopWaiting = this.#timers.after(waitMs, () => {
      if (!this.#closed) this.#connect()
    })
  }

  /** Sends a heartbeat, after looking whether the one before came back. */
  #beat(): void {
    const session = this.#session
    if (session === null || this.#upAt === null) return
    // While the store is behind nothing is read, our heartbeat neither: the store is the trouble, not the link.
    if (this.#fifo.held() >= this.#limits.externalHeldMax) return
    if (this.#token !== null && this.#heard && ++this.#misses >= this.#limits.heartbeatMissesMax) {
      this.#restart(session)
      return
    }
    if (this.#token !== null && !this.#heard)
      this.#warn('heartbeat', { topic: this.#heartbeatTopic }, 'the broker does not bring back our heartbeat')
    this.#token = randomUUID()
    session.client.publish(this.#heartbeatTopic, this.#token, { qos: 0 })
  }

  #restart(session: Session): void {
    const { log, now, onEvent } = this.#options
    const why = `${this.#misses} heartbeats did not come back`
    log.error({ broker: this.address() }, `${why}: making a new connection`)
    this.#restarts++
    onEvent?.({ kind: 'restarted', at: now(), why, worked: true })
    session.end()
  }
}

function checkUrl(url: string): void {
  const expected = 'expected mqtt://, mqtts://, ws:// or wss:// and a host'
  const shown = withoutPassword(url)
  if (!URL.canParse(url)) throw new ReceiveError(`broker.external.url: found ${shown}`, expected)
  const { protocol, hostname } = new URL(url)
  if (!['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(protocol) || hostname === '')
    throw new ReceiveError(`broker.external.url: found ${shown}`, expected)
}

function readCa(path: string): Buffer {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw new ReceiveError(`broker.external.ca_file: ${wordsOf(cause)}`, 'expected a PEM file that can be read', cause)
  }
}

/** The address as it may be shown: without a password that someone put into it all the same. */
function withoutPassword(url: string): string {
  return url.replace(/\/\/[^@/]*@/, '//')
}
