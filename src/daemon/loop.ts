import { type Ms, SECOND } from '../model/time.js'
import type { Clock } from '../runtime/clock.js'
import type { Log } from '../runtime/log.js'

const AFTER_FAILURE_MS = SECOND

/** Calls `act` again and again, each time after as long as it says; what it throws is logged and does not end it. */
export function loop(clock: Clock, act: () => Ms, log: Log): () => void {
  let cancel: (() => void) | null = null
  let stopped = false
  const round = (): void => {
    if (stopped) return
    let ms = AFTER_FAILURE_MS
    try {
      ms = act()
    } catch (error) {
      log.error({ error: error instanceof Error ? (error.stack ?? error.message) : String(error) }, 'a step failed')
    }
    cancel = clock.after(ms, round)
  }
  cancel = clock.after(0, round)
  return () => {
    stopped = true
    cancel?.()
  }
}
