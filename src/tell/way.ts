/** A way of telling: takes one message to the world beyond, and says what came of it. */
import type { Message } from '../model/message.js'
import type { WaySettings } from '../model/settings.js'

export type SendResult =
  | { readonly ok: true }
  | {
      readonly ok: false
      /** Whether the same message may well go through later. */
      readonly retry: boolean
      /** For people: who answered what. Never holds a secret. */
      readonly error: string
      /** The way itself is at fault (nobody answers, login refused), so nothing else will get through now either. */
      readonly wholeWay: boolean
      /** Not to be tried again before so long, where the other side or its nature says so. */
      readonly waitMs?: number
    }

export type Way = {
  readonly kind: WaySettings['kind']
  /** Never throws for what the other side does; must stop when the signal aborts. */
  send(message: Message, signal: AbortSignal): Promise<SendResult>
}

/** A failure that this message alone met. */
export function failed(retry: boolean, error: string, waitMs?: number): SendResult {
  return { ok: false, retry, error, wholeWay: false, ...(waitMs === undefined ? {} : { waitMs }) }
}

/** A failure that any message would meet now; always worth another try. */
export function wayDown(error: string, waitMs?: number): SendResult {
  return { ok: false, retry: true, error, wholeWay: true, ...(waitMs === undefined ? {} : { waitMs }) }
}
