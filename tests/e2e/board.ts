/** A board as honest firmware makes it: its own queue, kept until the broker has acknowledged, one connection at a time. */
import mqtt, { type MqttClient } from 'mqtt'
import { onTestFinished } from 'vitest'

export type Fact = { readonly key: string; readonly t: number; readonly value: number }
type Entry = { readonly payload: string; readonly facts: readonly Fact[]; state: 'waiting' | 'sent' | 'done' }

export type BoardOptions = {
  readonly url: string
  readonly topic: string
  readonly clientId: string
  readonly username?: string
  readonly password?: string
}

/** Messages under way at once. */
const WINDOW = 50
const RETRY_MS = 60
const CONNECT_MS = 3_000

export class TestBoard {
  /** What the broker has acknowledged: from then on it must be in the store, whatever happens. */
  readonly acknowledged: Fact[] = []
  messagesAcknowledged = 0
  connections = 0
  readonly #options: BoardOptions
  #queue: Entry[] = []
  #client: MqttClient | null = null
  #timer: NodeJS.Timeout | null = null
  #ended = false

  constructor(options: BoardOptions) {
    this.#options = options
    onTestFinished(() => this.end())
    this.#connect()
  }

  get waiting(): number {
    return this.#queue.length
  }

  /** Puts one SenML pack into the queue (RFC 8428): records of one instant or of several. */
  offer(facts: readonly Fact[], unit: string): void {
    const pack = facts.map(({ key, t, value }) => ({ n: key, u: unit, t: t / 1000, v: value }))
    this.#queue.push({ payload: JSON.stringify(pack), facts, state: 'waiting' })
    this.#pump()
  }

  /** Records of several units in one pack. */
  offerPack(records: readonly (Fact & { readonly unit: string })[]): void {
    const pack = records.map(({ key, t, value, unit }) => ({ n: key, u: unit, t: t / 1000, v: value }))
    this.#queue.push({ payload: JSON.stringify(pack), facts: records, state: 'waiting' })
    this.#pump()
  }

  async end(): Promise<void> {
    this.#ended = true
    if (this.#timer !== null) clearTimeout(this.#timer)
    const client = this.#client
    this.#client = null
    await client?.endAsync(true)
  }

  #connect(): void {
    const { url, clientId, username, password } = this.#options
    const client = mqtt.connect(url, {
      clientId,
      clean: true,
      connectTimeout: CONNECT_MS,
      reconnectPeriod: 0,
      keepalive: 10,
      ...(username === undefined ? {} : { username }),
      ...(password === undefined ? {} : { password }),
    })
    this.#client = client
    client.on('connect', () => {
      this.connections += 1
      this.#pump()
    })
    client.on('error', () => {})
    client.on('close', () => this.#lost(client))
  }

  #lost(client: MqttClient): void {
    if (client !== this.#client) return
    this.#client = null
    client.end(true)
    for (const entry of this.#queue) if (entry.state === 'sent') entry.state = 'waiting'
    if (this.#ended) return
    this.#timer = setTimeout(() => this.#connect(), RETRY_MS)
  }

  #pump(): void {
    const client = this.#client
    if (client === null || !client.connected) return
    for (let i = 0; i < WINDOW && i < this.#queue.length; i += 1) {
      const entry = this.#queue[i]
      if (entry === undefined || entry.state !== 'waiting') continue
      entry.state = 'sent'
      client.publish(this.#options.topic, entry.payload, { qos: 1 }, (error) => {
        if (client !== this.#client) return
        this.#answered(entry, error === undefined || error === null)
      })
    }
  }

  #answered(entry: Entry, taken: boolean): void {
    if (!taken) {
      entry.state = 'waiting'
      return
    }
    entry.state = 'done'
    this.messagesAcknowledged += 1
    this.acknowledged.push(...entry.facts)
    while (this.#queue[0]?.state === 'done') this.#queue.shift()
    this.#pump()
  }
}
