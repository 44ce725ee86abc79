import { LIMITS } from '../model/limits.js'

/** Our own retained messages, kept so that a broker made anew has them, too. Bounded. */
export type Retained = {
  /** Keeps the message; an empty one forgets its topic (MQTT 3.1.1, section 3.3.1.3). Throws when there are too many. */
  keep(topic: string, payload: Buffer): void
  all(): Iterable<readonly [topic: string, payload: Buffer]>
}

export function createRetained(): Retained {
  const byTopic = new Map<string, Buffer>()
  return {
    keep(topic, payload) {
      if (payload.length === 0) byTopic.delete(topic)
      else if (!byTopic.has(topic) && byTopic.size >= LIMITS.retainedMax)
        throw new Error(`${byTopic.size} retained topics already; expected at most ${LIMITS.retainedMax}`)
      else byTopic.set(topic, payload)
    },
    all: () => byTopic,
  }
}
