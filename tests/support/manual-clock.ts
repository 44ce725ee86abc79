/** A clock moved by hand. Timers fire in the order of their instants, each seeing its own instant as now. */

export type ManualClock = {
  now(): number
  /** Calls `fn` once, `ms` from now; the answer calls it off. */
  after(ms: number, fn: () => void): () => void
  /** Moves on, firing what falls due and letting promises settle after each. */
  advance(ms: number): Promise<void>
  /** Timers still to fire. */
  pending(): number
}

type Timer = { readonly at: number; readonly order: number; readonly fn: () => void }

/** Lets what hangs on promises alone run to its end. */
async function settle(): Promise<void> {
  for (let turn = 0; turn < 5; turn += 1) await new Promise((resolve) => setImmediate(resolve))
}

export function manualClock(start: number): ManualClock {
  let now = start
  let order = 0
  const timers = new Set<Timer>()

  function nextDue(until: number): Timer | undefined {
    return [...timers].filter(({ at }) => at <= until).sort((a, b) => a.at - b.at || a.order - b.order)[0]
  }

  return {
    now: () => now,
    after(ms, fn) {
      order += 1
      const timer = { at: now + ms, order, fn }
      timers.add(timer)
      return () => timers.delete(timer)
    },
    async advance(ms) {
      const until = now + ms
      await settle()
      for (let timer = nextDue(until); timer !== undefined; timer = nextDue(until)) {
        timers.delete(timer)
        now = Math.max(now, timer.at)
        timer.fn()
        await settle()
      }
      now = until
      await settle()
    },
    pending: () => timers.size,
  }
}
