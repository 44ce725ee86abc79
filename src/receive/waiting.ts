import type { Timers } from './receiver.js'

/** Runs an act that calls back; rejects when it has not within the time, so that nobody waits for ever. */
export function calledBackWithin(
  act: (done: (error?: Error | null) => void) => void,
  ms: number,
  timers: Timers,
  what: string,
): Promise<void> {
  return new Promise((resolve, reject) => {
    const stop = timers.after(ms, () => reject(new Error(`${what}: no answer within ${ms / 1000} s`)))
    act((error) => {
      stop()
      if (error) reject(error)
      else resolve()
    })
  })
}

/** Waits for the promise, but no longer than so; whether it was done by then. */
export function doneWithin(promise: Promise<unknown>, ms: number, timers: Timers): Promise<boolean> {
  return new Promise((resolve) => {
    const stop = timers.after(ms, () => resolve(false))
    const done = (): void => {
      stop()
      resolve(true)
    }
    promise.then(done, done)
  })
}

/** Looks again and again until it holds, but no longer than so; whether it held. */
export function holdsWithin(holds: () => boolean, ms: number, timers: Timers): Promise<boolean> {
  return new Promise((resolve) => {
    const end = (held: boolean): void => {
      stopLooking()
      stopWaiting()
      // Two turns, so that what was written last leaves the process.
      setImmediate(() => setImmediate(() => resolve(held)))
    }
    const stopWaiting = timers.after(ms, () => end(holds()))
    const stopLooking = timers.every(10, () => {
      if (holds()) end(true)
    })
    if (holds()) end(true)
  })
}
