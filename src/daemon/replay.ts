/**
 * A capture run through the whole line with a clock that the capture drives, into a fresh store. The same input gives
 * the same bytes: nothing here knows what time it is.
 */
import { DAEMON_WELL } from '../model/daemon-facts.js'
import { LIMITS } from '../model/limits.js'
import type { Arrival } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import type { Line } from './line.js'

/** Messages taken in at once, at most. */
const BATCH = 500

export type Drive = {
  /** Called after each stretch of the capture's clock, with its time. */
  readonly onStep?: (now: Ms) => Promise<void> | void
  /** True: stop here, as for a signal. */
  readonly stopped?: () => boolean
  readonly onMessages?: (count: number) => void
  /**
   * Messages that may wait for one commit; none unless given, so that at each step all is committed. For a store in
   * memory, of which nothing would be left after a failure anyway.
   */
  readonly commitMessages?: number
}

/** Runs arrivals (ascending in `at`) through the line. Returns the last instant of its clock. */
export async function drive(line: Line, arrivals: Iterable<Arrival>, options: Drive = {}): Promise<Ms> {
  let batch: Arrival[] = []
  let next = Number.NaN
  let now = 0
  let uncommitted = 0
  const flush = (): void => {
    if (batch.length === 0) return
    uncommitted += batch.length
    const commit = uncommitted >= (options.commitMessages ?? 0)
    line.receive(batch, commit ? 'commit' : 'later')
    if (commit) uncommitted = 0
    options.onMessages?.(batch.length)
    batch = []
  }
  for (const arrival of arrivals) {
    if (Number.isNaN(next)) next = firstStep(arrival.at)
    while (arrival.at >= next) {
      flush()
      if (options.stopped?.() === true) {
        line.commitKept()
        return next
      }
      line.step(next, () => DAEMON_WELL)
      const said = options.onStep?.(next)
      if (said !== undefined) await said
      next = following(line, next, arrival.at)
    }
    batch.push(arrival)
    now = arrival.at
    if (batch.length >= BATCH) flush()
  }
  flush()
  line.commitKept()
  const end = (Number.isNaN(next) ? now : Math.max(next, now)) + LIMITS.latenessMs
  line.finish(end)
  const said = options.onStep?.(end)
  if (said !== undefined) await said
  return end
}

function firstStep(at: Ms): Ms {
  return at - (at % LIMITS.tickMs) + LIMITS.tickMs
}

/** The next step of the clock; after days without any message it strides by the hour, as the engine's looks do. */
function following(line: Line, at: Ms, until: Ms): Ms {
  const far = until - at > 2 * 86_400_000 && line.sites.every((site) => (site.facts?.lastHeard ?? at) < at - 86_400_000)
  return far ? at + 3_600_000 : at + LIMITS.tickMs
}
