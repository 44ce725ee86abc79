/**
 * Messages that the store could not take: they go out past it when they are due, are tried again while they fail, and
 * are left to the outbox as soon as the store works again.
 */
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import { MINUTE, type Ms } from '../model/time.js'
import type { Log } from '../runtime/log.js'
import type { Teller } from '../tell/teller.js'

export type PastStoreOptions = {
  readonly teller: Pick<Teller, 'direct'>
  readonly log: Log
  /** Whether what was found is still not on disk. */
  readonly holding: () => boolean
}

export type PastStore = {
  add(messages: readonly Message[]): void
  /** Sends what is due; called each step. */
  run(now: Ms): void
}

const RETRY_MS = MINUTE

export function createPastStore({ teller, log, holding }: PastStoreOptions): PastStore {
  let waiting: { message: Message; from: Ms }[] = []
  const send = (due: readonly Message[], now: Ms): void => {
    teller.direct(due).then(
      (left) => {
        if (left.length === 0) return
        log.error({ messages: left.length }, 'messages could neither be stored nor sent; tried again in a minute')
        waiting.push(...left.map((message) => ({ message, from: now + RETRY_MS })))
      },
      (error: unknown) => log.error({ error: String(error) }, 'telling past the store failed'),
    )
  }
  return {
    add(messages) {
      waiting.push(...messages.map((message) => ({ message, from: message.due })))
      waiting = waiting.slice(-LIMITS.outboxMax)
    },
    run(now) {
      if (waiting.length === 0) return
      if (!holding()) {
        waiting = []
        return
      }
      const due = waiting.filter(({ from }) => from <= now)
      if (due.length === 0) return
      waiting = waiting.filter(({ from }) => from > now)
      send(
        due.map(({ message }) => message),
        now,
      )
    },
  }
}
