import type { IPublishPacket, ISubscriptionMap, MqttClient } from 'mqtt'
import type { Ms } from '../model/time.js'
import type { Fifo } from './fifo.js'

/** One connection to an outside broker, from its making to its end. The next one is another client altogether. */
export type Session = {
  readonly client: MqttClient
  /** Reads on, where reading was stopped because too much was held and the line is short enough again. */
  resume(): void
  /** Ends the connection now; what is not acknowledged will be delivered again on the next one. */
  end(): void
}

export type SessionParts = {
  readonly client: MqttClient
  readonly fifo: Fifo
  readonly heldMax: number
  readonly now: () => Ms
  readonly topics: readonly string[]
  readonly heartbeatTopic: string
  onUp(): void
  onDown(why: string): void
  onHeartbeat(token: string): void
  onSettled(): void
  onRefusedTopics(topics: readonly string[]): void
}

/** Keeps the library from acknowledging by itself; the connection goes on (see `takeMessages`). */
const HELD = new Error('acknowledged later')

/** Takes messages from a client that has just been made. */
export function openSession(parts: SessionParts): Session {
  const { client } = parts
  let over = false
  let trouble: string | null = null
  const fail = (why: string): void => {
    trouble ??= why
    client.end(true)
    down()
  }
  const down = (): void => {
    if (over) return
    over = true
    parts.onDown(trouble ?? 'the broker closed the connection')
  }
  const resume = takeMessages(parts, () => !over && client.connected, fail)
  client.on('error', (error) => {
    trouble ??= error.message === '' ? String(error) : error.message
  })
  client.on('close', down)
  client.on('connect', () => {
    if (over) return
    subscribe(parts)
    parts.onUp()
  })
  return { client, resume, end: () => fail('ended') }
}

/**
 * The library hands over one message at a time and acknowledges when `next()` is called, which would mean one commit
 * a message. An error given to `next` instead makes it go on without acknowledging (a promise kept by a contract
 * test); the PUBACK is written by us to the very stream that the message came by, once the message is settled. So
 * an acknowledgement can never reach a later connection, where its packet id means another message.
 */
function takeMessages(parts: SessionParts, alive: () => boolean, fail: (why: string) => void): () => void {
  const { client, fifo } = parts
  const { stream } = client
  let acks: number[] = []
  let waiting: (() => void) | null = null

  const flush = (): void => {
    const ids = acks
    acks = []
    if (!alive() || stream.destroyed) return
    const bytes = Buffer.allocUnsafe(ids.length * 4)
    let at = 0
    for (const id of ids) {
      // PUBACK: MQTT 3.1.1, section 3.4: type 4, two bytes to follow, the packet identifier.
      bytes[at++] = 0x40
      bytes[at++] = 2
      bytes[at++] = id >> 8
      bytes[at++] = id & 255
    }
    stream.write(bytes)
  }
  const settled = (id: number | null, error: Error | null): void => {
    parts.onSettled()
    if (!alive()) return
    // Only a new connection makes the broker send it again.
    if (error !== null && id !== null) fail(`a message could not be stored: ${error.message}`)
    else if (id !== null && acks.push(id) === 1) queueMicrotask(flush)
  }

  client.handleMessage = (packet: IPublishPacket, next): void => {
    const payload = typeof packet.payload === 'string' ? Buffer.from(packet.payload, 'utf8') : packet.payload
    if (packet.topic === parts.heartbeatTopic) {
      parts.onHeartbeat(payload.toString('utf8'))
      next()
      return
    }
    const id = packet.qos > 0 && packet.messageId !== undefined ? packet.messageId : null
    // The retain flag is set only on what is sent because of a new subscription (MQTT-3.3.1-8): old, not alive.
    const arrival = { at: parts.now(), topic: packet.topic, payload, retain: packet.retain }
    if (!fifo.offer(arrival, (error) => settled(id, error))) fail('too many messages wait for the store')
    else if (fifo.held() >= parts.heldMax) waiting = () => next(HELD)
    else next(HELD)
  }
  return () => {
    if (waiting === null || fifo.held() * 2 > parts.heldMax) return
    const go = waiting
    waiting = null
    go()
  }
}

/** Subscribes on every connection: the broker may have lost the session. */
function subscribe(parts: SessionParts): void {
  const topics = [...parts.topics, parts.heartbeatTopic]
  const wanted = Object.fromEntries(
    topics.map((topic, i) => [topic, { qos: i < parts.topics.length ? 1 : 0 }] as const),
  )
  parts.client.subscribe(wanted as ISubscriptionMap, (_error, _wanted, suback) => {
    // One code for each filter, in their order; 128 is a refusal (MQTT 3.1.1, section 3.9.3).
    const codes = suback?.granted ?? []
    const refused = topics.filter((_topic, i) => Number(codes[i] ?? 0) >= 128)
    if (refused.length > 0) parts.onRefusedTopics(refused)
  })
}
