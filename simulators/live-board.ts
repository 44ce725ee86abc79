/** A board on a real broker: one connection, its own queue, kept until the broker has acknowledged, as firmware does. */
import mqtt, { type MqttClient } from 'mqtt'
import { type Pack, payloadOf } from './boards.js'
import { BACKLOG_MAX } from './link.js'
import type { BoardId, SiteId } from './plan.js'

export type BrokerOptions = {
  /** mqtt:// or mqtts:// */
  readonly url: string
  /** `{board}` in it stands for the board's id. */
  readonly username: string | null
  readonly password: string | null
}

/** Messages under way at once: few, so that little is sent again when the link drops. */
const WINDOW = 20
const RETRY_MS = 200
const RETRY_MS_MAX = 15_000

type Entry = { readonly pack: Pack; readonly copies: number; state: 'waiting' | 'sent' | 'done' }

export class LiveBoard {
  readonly id: BoardId
  sent = 0
  dropped = 0
  readonly topic: string
  readonly #clientId: string
  readonly #broker: BrokerOptions
  readonly #log: (line: string) => void
  #queue: Entry[] = []
  #client: MqttClient | null = null
  #ready = false
  #wanted = false
  #retryMs = RETRY_MS
  #timer: NodeJS.Timeout | null = null

  constructor(site: SiteId, id: BoardId, broker: BrokerOptions, log: (line: string) => void) {
    this.id = id
    this.topic = `water/${site}/${id}`
    this.#clientId = `${site}-${id}`
    this.#broker = broker
    this.#log = log
  }

  get waiting(): number {
    return this.#queue.length
  }

  /** Keeps a pack until it is acknowledged; the oldest is forgotten when the board's memory is full. */
  offer(pack: Pack, copies: number): void {
    this.#queue.push({ pack, copies, state: 'waiting' })
    if (this.#queue.length > BACKLOG_MAX) {
      this.#queue.shift()
      this.dropped++
    }
    this.#pump()
  }

  /** Link up or down. */
  want(up: boolean): void {
    if (up === this.#wanted) return
    this.#wanted = up
    if (up) this.#connect()
    else this.#leave()
  }

  /** Puts what waits out of order, as some firmware does with a backlog. */
  shuffle(between: (low: number, high: number) => number, windowMs: number): void {
    const places = this.#queue.map((entry) => ({ entry, place: entry.pack.at + windowMs * between(-1, 1) }))
    this.#queue = places.sort((a, b) => a.place - b.place).map(({ entry }) => entry)
  }

  /** Says good-bye to the broker. What is not acknowledged is lost with the board. */
  async close(): Promise<void> {
    this.#wanted = false
    if (this.#timer !== null) clearTimeout(this.#timer)
    const client = this.#client
    this.#client = null
    this.#ready = false
    await client?.endAsync(true)
  }

  #connect(): void {
    const { url, username, password } = this.#broker
    const client = mqtt.connect(url, {
      clientId: this.#clientId,
      clean: true,
      keepalive: 30,
      connectTimeout: 10_000,
      reconnectPeriod: 0,
      queueQoSZero: false,
      ...(username === null ? {} : { username: username.replaceAll('{board}', this.id) }),
      ...(password === null ? {} : { password }),
    })
    this.#client = client
    client.on('connect', () => {
      this.#ready = true
      this.#retryMs = RETRY_MS
      this.#log(`${this.#clientId} connected, ${this.#queue.length} waiting`)
      this.#pump()
    })
    client.on('error', (error) => this.#log(`${this.#clientId}: ${error.message || 'no connection'}`))
    client.on('close', () => this.#lost(client))
  }

  /** Each connection has a client of its own: what was under way on the old one is sent again by us alone. */
  #lost(client: MqttClient): void {
    if (this.#client !== client) return
    this.#leave()
    if (!this.#wanted) return
    this.#timer = setTimeout(() => {
      this.#timer = null
      if (this.#wanted && this.#client === null) this.#connect()
    }, this.#retryMs)
    this.#retryMs = Math.min(RETRY_MS_MAX, this.#retryMs * 2)
  }

  #leave(): void {
    const client = this.#client
    this.#client = null
    this.#ready = false
    for (const entry of this.#queue) if (entry.state === 'sent') entry.state = 'waiting'
    client?.end(true)
  }

  #pump(): void {
    const client = this.#client
    if (client === null || !this.#ready) return
    for (let i = 0; i < WINDOW && i < this.#queue.length; i++) {
      const entry = this.#queue[i]
      if (entry === undefined || entry.state !== 'waiting') continue
      entry.state = 'sent'
      const payload = payloadOf(entry.pack, entry.pack.at, 'synced')
      for (let copy = 1; copy < entry.copies; copy++) client.publish(this.topic, payload, { qos: 1 })
      client.publish(this.topic, payload, { qos: 1 }, (error) => this.#answered(client, entry, error ?? null))
    }
  }

  #answered(client: MqttClient, entry: Entry, error: Error | null): void {
    if (client !== this.#client) return
    entry.state = error === null ? 'done' : 'waiting'
    if (error === null) this.sent++
    while (this.#queue[0]?.state === 'done') this.#queue.shift()
    this.#pump()
  }
}
