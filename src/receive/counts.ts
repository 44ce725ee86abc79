import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { Log, ReceiveEvent, RefusedReason } from './receiver.js'

/** Counts what was turned away, says so as an event each time, and in the log now and then. */
export type Refusals = {
  add(reason: RefusedReason, who: string, what: string): void
  counts(): Readonly<Record<RefusedReason, number>>
}

export function createRefusals(now: () => Ms, log: Log, onEvent: (event: ReceiveEvent) => void): Refusals {
  const counts: Record<RefusedReason, number> = {
    account: 0,
    'too-many-tries': 0,
    'client-id': 0,
    topic: 0,
    subscription: 0,
    'frame-too-large': 0,
    'too-many-connections': 0,
    'queue-full': 0,
    protocol: 0,
  }
  const warn = limitedWarn(now, log)
  return {
    add(reason, who, what) {
      counts[reason]++
      // Names come from the wire: shortened, so that a hostile one cannot fill the log.
      const shown = { reason, who: shorten(who), what: shorten(what) }
      warn(reason, shown, `refused (${reason})`)
      onEvent({ kind: 'refused', at: now(), ...shown })
    },
    counts: () => ({ ...counts }),
  }
}

/** Warns at most once in `LIMITS.logRepeatMs` for each key, saying how many were left out. Keys must be few. */
export function limitedWarn(now: () => Ms, log: Log): (key: string, about: object, words: string) => void {
  const said = new Map<string, { at: Ms; unsaid: number }>()
  return (key, about, words) => {
    const last = said.get(key)
    const at = now()
    if (last !== undefined && at - last.at < LIMITS.logRepeatMs && at >= last.at) {
      last.unsaid++
      return
    }
    said.set(key, { at, unsaid: 0 })
    log.warn(last !== undefined && last.unsaid > 0 ? { ...about, unsaid: last.unsaid } : about, words)
  }
}

export function shorten(text: string): string {
  return text.length <= LIMITS.exampleCharsMax ? text : `${text.slice(0, LIMITS.exampleCharsMax - 3)}...`
}
