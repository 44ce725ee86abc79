/** One attempt to deliver one message, ended by our own timer whatever the way and its libraries do. */
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import { oneLine } from './line.js'
import { type SendResult, type Way, wayDown } from './way.js'

/** Calls `fn` once after so long; the answer calls it off. */
export type After = (ms: number, fn: () => void) => () => void

/** The real thing. */
export const afterTimeout: After = (ms, fn) => {
  const timer = setTimeout(fn, ms)
  return () => clearTimeout(timer)
}

/** Errors as one line for a row and a log, with their cause, which alone says what the network did. */
export function errorWords(error: unknown): string {
  if (!(error instanceof Error)) return oneLine(String(error)).slice(0, 300)
  const cause = error.cause instanceof Error ? `: ${error.cause.message}` : ''
  const words = `${error.message}${cause}`
  return oneLine(words === '' ? error.name : words).slice(0, 300)
}

/**
 * Sends, and answers within the deadline even where the way does not.
 *
 * A way that is cut off may still deliver afterwards: the message is then sent again with the same key, and the
 * other side can drop the repeat.
 */
export async function attempt(
  way: Way,
  message: Message,
  after: After,
  deadlineMs: number = LIMITS.deliveryDeadlineMs,
): Promise<SendResult> {
  const abort = new AbortController()
  let callOff = () => {}
  const cutOff = new Promise<SendResult>((resolve) => {
    callOff = after(deadlineMs, () => {
      resolve(wayDown(`no answer within ${Math.round(deadlineMs / 1_000)} s`))
      abort.abort()
    })
  })
  try {
    return await Promise.race([way.send(message, abort.signal), cutOff])
  } catch (error) {
    return wayDown(errorWords(error))
  } finally {
    callOff()
  }
}
