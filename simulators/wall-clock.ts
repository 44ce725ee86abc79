import type { Ms } from '../src/model/time.js'

/** The only reader of real time among the simulators: live boards follow it, captures never do. */
export function wallNow(): Ms {
  return Date.now()
}
