import type { Arrival } from '../model/sample.js'
import type { Ingest, Settle } from './receiver.js'

/**
 * The one line in which messages wait for the store. Acknowledgements leave in order of arrival, whatever the order
 * in which messages are settled (MQTT 3.1.1, MQTT-4.6.0-2 asks it for each client; one line gives it for all).
 */
export type Fifo = {
  /** Hands the message to ingest; `done` follows when it and all before it are settled. False when full. */
  offer(arrival: Arrival, done: Settle): boolean
  held(): number
  counts(): { readonly received: number; readonly settled: number; readonly failed: number }
}

type Waiting = { done: Settle; settled: boolean; error: Error | null; next: Waiting | null }

export function createFifo(ingest: Ingest, max: number): Fifo {
  let head: Waiting | null = null
  let tail: Waiting | null = null
  let held = 0
  let received = 0
  let settled = 0
  let failed = 0
  let releasing = false

  const release = (): void => {
    // `done` may offer or settle again: the outer call goes on where the line then stands.
    if (releasing) return
    releasing = true
    while (head?.settled) {
      const { done, error }: Waiting = head
      head = head.next
      if (head === null) tail = null
      held--
      if (error === null) settled++
      else failed++
      done(error)
    }
    releasing = false
  }

  return {
    offer(arrival, done) {
      if (held >= max) return false
      const waiting: Waiting = { done, settled: false, error: null, next: null }
      if (tail === null) head = waiting
      else tail.next = waiting
      tail = waiting
      held++
      received++
      const settle: Settle = (error) => {
        if (waiting.settled) return
        waiting.settled = true
        waiting.error = error
        if (waiting === head) release()
      }
      try {
        ingest(arrival, settle)
      } catch (error) {
        settle(error instanceof Error ? error : new Error(String(error)))
      }
      return true
    },
    held: () => held,
    counts: () => ({ received, settled, failed }),
  }
}
