import { LIMITS } from '../model/limits.js'
import { MINUTE, type Ms } from '../model/time.js'

/**
 * Counts how often a client id is taken over by a new connection. Once in a while is a board that lost its link;
 * many times in two minutes are two boards that push each other out (MQTT-3.1.4-2), each seen as online for a moment.
 */
export type Takeovers = {
  /** Notes one; the number within two minutes when it is too many and has not been said in them, else null. */
  note(client: string): number | null
  total(): number
}

export function createTakeovers(now: () => Ms): Takeovers {
  const byClient = new Map<string, { from: Ms; count: number; said: boolean }>()
  let total = 0
  return {
    note(client) {
      total++
      const at = now()
      let minute = byClient.get(client)
      if (minute === undefined || at - minute.from >= 2 * MINUTE || at < minute.from) {
        byClient.delete(client)
        minute = { from: at, count: 0, said: false }
        byClient.set(client, minute)
        const [oldest] = byClient.keys()
        if (byClient.size > LIMITS.connectionsMax && oldest !== undefined) byClient.delete(oldest)
      }
      minute.count++
      if (minute.count <= LIMITS.takeoversMax || minute.said) return null
      minute.said = true
      return minute.count
    },
    total: () => total,
  }
}
