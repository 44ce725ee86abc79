import { randomBytes, randomUUID } from 'node:crypto'
import { Aedes } from 'aedes'
import { LIMITS } from '../model/limits.js'
import type { BrokerSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { createRefusals } from './counts.js'
import { type BrokerParts, type MakeBroker, type OneBroker, openBroker } from './embedded-broker.js'
import { createFifo } from './fifo.js'
import { createGate, type Marks, type Verify } from './gate.js'
import { type Listeners, listen, type Ports } from './listeners.js'
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
import { createRetained } from './retained.js'
import { type BoardRule, isLoopback } from './rules.js'
import { createTokens, probeOnce } from './self-probe.js'
import { createTakeovers } from './takeovers.js'
import { calledBackWithin, doneWithin, holdsWithin } from './waiting.js'

export type EmbeddedOptions = {
  readonly settings: Extract<BrokerSettings, { kind: 'embedded' }>
  readonly boards: readonly BoardRule[]
  readonly verify: Verify
  /** By which an account that was removed or changed is noticed while its client is connected. */
  readonly marks?: Marks
  readonly ingest: Ingest
  readonly now: () => Ms
  readonly log: Log
  readonly onEvent?: (event: ReceiveEvent) => void
  readonly timers?: Timers
  /** Narrower bounds, for tests. */
  readonly limits?: Partial<EmbeddedLimits>
  readonly makeBroker?: MakeBroker
}

export type EmbeddedLimits = {
  readonly connectionsMax: number
  readonly keepaliveMaxS: number
  readonly connectTimeoutMs: number
  readonly ingestQueueMax: number
  readonly selfProbeMs: number
  readonly selfProbeMissesMax: number
  readonly publishDeadlineMs: number
}

/**
 * Starts a broker of our own (MQTT 3.1 and 3.1.1, TCP and TLS). PUBACK and PUBREC leave only after `settle(null)`;
 * after `settle(error)` the connection is closed without one, so that the board keeps the message. QoS 0 messages
 * wait in the same line, but nothing tells their sender. QoS 2 is taken as it comes: a message sent twice is
 * handed to ingest twice, and the store keeps one.
 *
 * It listens to itself (`LIMITS.selfProbeMs`): a client of its own must get a token through the very hook by which
 * every message comes. After `LIMITS.selfProbeMissesMax` misses in a row the broker and its listeners are made anew.
 * Throws ReceiveError when it cannot listen.
 */
export async function startEmbedded(options: EmbeddedOptions): Promise<Receiver> {
  const { settings } = options
  if (settings.anonymous && !isLoopback(settings.host))
    throw new ReceiveError(
      `broker.embedded.anonymous: found true with host ${settings.host}`,
      'clients without a name are taken on a loopback host only (127.0.0.1)',
    )
  const receiver = new EmbeddedReceiver(options)
  await receiver.start()
  return receiver
}

class EmbeddedReceiver implements Receiver {
  readonly #options: EmbeddedOptions
  readonly #limits: EmbeddedLimits
  readonly #timers: Timers
  readonly #parts: BrokerParts
  readonly #retained = createRetained()
  /** The name and the secret of our own client; new at each start, known to nobody else. */
  readonly #account = { name: `$probe-${randomUUID()}`, secret: Buffer.from(randomBytes(24).toString('hex')) }
  #ports: Ports | null = null
  #current: { readonly one: OneBroker; readonly listeners: Listeners } | null = null
  #restarts = 0
  #misses = 0
  #provedAt: Ms | null = null
  #closed = false
  #probing: Promise<void> | null = null
  #stopProbing: () => void = () => {}
  #stopSweeping: () => void = () => {}

  constructor(options: EmbeddedOptions) {
    const { now, log, settings, boards, verify } = options
    this.#options = options
    this.#limits = { ...LIMITS, ...options.limits }
    this.#timers = options.timers ?? systemTimers
    this.#parts = {
      makeBroker: options.makeBroker ?? ((wanted) => Aedes.createBroker(wanted)),
      gate: createGate({
        boards,
        verify,
        now,
        log,
        anonymous: settings.anonymous,
        probe: this.#account,
        ...(options.marks === undefined ? {} : { marks: options.marks }),
      }),
      fifo: createFifo(options.ingest, this.#limits.ingestQueueMax),
      tokens: createTokens(),
      refusals: createRefusals(now, log, (event) => options.onEvent?.(event)),
      takeovers: createTakeovers(now),
      onTwoBoards(client, takeovers, about) {
        log.warn({ client, takeovers }, 'two boards use one client id, or one board connects again and again')
        options.onEvent?.({ kind: 'two-boards-one-name', at: now(), client, takeovers, ...about })
      },
      now,
      keepaliveMaxS: this.#limits.keepaliveMaxS,
      connectTimeoutMs: this.#limits.connectTimeoutMs,
    }
  }

  async start(): Promise<void> {
    await this.#open()
    const { marks } = this.#options
    if (marks !== undefined) this.#stopSweeping = this.#timers.every(LIMITS.accountsLookMs, () => this.#sweep(marks))
    this.#stopProbing = this.#timers.every(this.#limits.selfProbeMs, () => {
      this.#probing ??= this.#probe().finally(() => {
        this.#probing = null
      })
    })
  }

  address(): string {
    const { host } = this.#options.settings
    const shown = host.includes(':') ? `[${host}]` : host
    return (this.#current?.listeners.addresses ?? []).map((each) => `${shown}:${each.port}`).join(', ')
  }

  stats(): ReceiverStats {
    const { fifo, takeovers, refusals } = this.#parts
    return {
      connected: this.#current?.one.connected() ?? 0,
      ...fifo.counts(),
      held: fifo.held(),
      takeovers: takeovers.total(),
      restarts: this.#restarts,
      misses: this.#misses,
      provedAt: this.#provedAt,
      refused: refusals.counts(),
    }
  }

  async publish(topic: string, payload: string | Uint8Array, options: { retain?: boolean } = {}): Promise<void> {
    const bytes = typeof payload === 'string' ? Buffer.from(payload, 'utf8') : Buffer.from(payload)
    const retain = options.retain ?? false
    if (retain) this.#retained.keep(topic, bytes)
    const one = this.#current?.one
    if (one === undefined) throw new Error('the broker is not listening')
    await calledBackWithin(
      (done) => publishOwn(one, topic, bytes, retain, done),
      this.#limits.publishDeadlineMs,
      this.#timers,
      `publish to ${topic}`,
    )
  }

  async close(): Promise<void> {
    if (this.#closed) return
    this.#closed = true
    this.#stopProbing()
    this.#stopSweeping()
    await holdsWithin(() => this.#parts.fifo.held() === 0, LIMITS.closeWaitMs, this.#timers)
    await this.#shut()
    // A restart under way may just have opened again.
    await this.#probing
    await this.#shut()
  }

  /** An account that was removed, or has another secret or role, is not served on because its client came in before. */
  #sweep(marks: Marks): void {
    try {
      this.#current?.one.sweep(marks())
    } catch (error) {
      this.#options.log.error({ error: wordsOf(error) }, 'accounts could not be looked at')
    }
  }

  async #open(): Promise<void> {
    const { settings } = this.#options
    const one = await openBroker(this.#parts)
    try {
      const listeners = await listen(settings, this.#ports, {
        connectionsMax: this.#limits.connectionsMax,
        take: one.take,
        refuse: (remote, why, words) => this.#parts.refusals.add(why, remote, words),
        isLoopback,
      })
      this.#current = { one, listeners }
      const portOf = (tls: boolean): number => listeners.addresses.find((each) => each.tls === tls)?.port ?? 0
      this.#ports = { plain: portOf(false), tls: portOf(true) }
    } catch (error) {
      await one.close()
      throw error
    }
    for (const [topic, payload] of this.#retained.all()) publishOwn(one, topic, payload, true, () => {})
  }

  async #shut(): Promise<void> {
    const old = this.#current
    this.#current = null
    if (old === null) return
    old.one.silence()
    // Sockets first: a broker that hangs must not keep the port. Such a one may never say that it has closed, either.
    await old.listeners.close()
    await doneWithin(old.one.close(), LIMITS.closeWaitMs, this.#timers)
  }

  async #probe(): Promise<void> {
    let trouble = this.#current === null ? 'not listening' : null
    for (const target of this.#current?.listeners.addresses ?? [])
      trouble ??= await probeOnce(
        target,
        this.#account,
        this.#parts.tokens,
        this.#limits.publishDeadlineMs,
        this.#timers,
      )
    if (this.#closed) return
    if (trouble === null) {
      this.#misses = 0
      this.#provedAt = this.#options.now()
      return
    }
    this.#misses++
    this.#options.log.warn({ trouble, misses: this.#misses }, 'the broker did not hear itself')
    if (this.#misses >= this.#limits.selfProbeMissesMax) await this.#restart(trouble)
  }

  async #restart(why: string): Promise<void> {
    const { log, now, onEvent } = this.#options
    log.error({ why }, 'the broker no longer hears itself: making it anew')
    this.#restarts++
    this.#misses = 0
    try {
      await this.#shut()
      await this.#open()
      onEvent?.({ kind: 'restarted', at: now(), why, worked: true })
    } catch (error) {
      // The next probe finds nothing to reach, and brings us here again.
      this.#misses = this.#limits.selfProbeMissesMax
      log.error({ error: wordsOf(error) }, 'the broker could not be made anew')
      onEvent?.({ kind: 'restarted', at: now(), why: wordsOf(error), worked: false })
    }
  }
}

function publishOwn(
  one: OneBroker,
  topic: string,
  payload: Buffer,
  retain: boolean,
  done: (error?: Error | null) => void,
): void {
  one.broker.publish({ cmd: 'publish', topic, payload, qos: 1, retain, dup: false }, done)
}
