/** What the page turned away stands in the log, a line for each kind now and then: a guesser must not fill the disk. */
import type { Ms } from '../model/time.js'
import { limitedWarn } from '../receive/counts.js'
import type { Log } from '../runtime/log.js'
import type { PageRefusal } from '../show/source.js'

export function pageRefusals(now: () => Ms, log: Log): (refusal: PageRefusal) => void {
  const warn = limitedWarn(now, log)
  return ({ status, route, from, why }) => {
    // Routes are those of the program, never what was asked for: the keys are few.
    warn(`${status} ${route}`, { status, route, from, why }, 'the page refused a request')
  }
}
