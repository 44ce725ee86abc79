/** The only reader of the machine's clock and chance. Everything else is handed a `Clock`. */
import type { Ms } from '../model/time.js'

export type Clock = {
  /** Wall time, for records. */
  now(): Ms
  /** Never goes back; for measuring spans. Milliseconds. */
  monotonic(): number
  /** 0 ≤ x < 1, for jitter and for ids that need not be secret. */
  chance(): number
  /** Calls back after so many milliseconds of this clock; the returned function cancels. */
  after(ms: number, run: () => void): () => void
}

/** The machine's own clock. */
export const systemClock: Clock = {
  now: () => Date.now(),
  monotonic: () => performance.now(),
  chance: () => Math.random(),
  after(ms, run) {
    const timer = setTimeout(run, ms)
    return () => clearTimeout(timer)
  },
}

/**
 * A clock that starts at `start` when the machine's stands at `wallStart` and runs `speed` times as fast: the demo's.
 * Two processes that are given the same three numbers agree on the time.
 */
export function fastClock(start: Ms, wallStart: Ms, speed: number): Clock {
  return {
    now: () => Math.round(start + (Date.now() - wallStart) * speed),
    monotonic: () => performance.now(),
    chance: () => Math.random(),
    after(ms, run) {
      const timer = setTimeout(run, Math.max(1, ms / speed))
      return () => clearTimeout(timer)
    },
  }
}
