/** What is done on the side: finished days are packed, old samples dropped. Nothing that an alarm depends on. */
import { type ScheduledTask, schedule } from 'node-cron'
import { SECOND } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import type { Log } from '../runtime/log.js'

/** In UTC, so that no change of clocks skips or doubles it. */
const DAILY = '23 11 * * *'
const SEAL_EVERY_MS = 10 * SECOND
const SEAL_AGAIN_MS = 50

export type Housekeeping = { stop(): void }

export function startHousekeeping(store: Store, clock: Clock, log: Log, keepDays: number): Housekeeping {
  let cancel: (() => void) | null = null
  let stopped = false
  const seal = (): void => {
    if (stopped) return
    let again = SEAL_EVERY_MS
    try {
      if (store.sealDue(clock.now()) && store.seal(clock.now()).left > 0) again = SEAL_AGAIN_MS
    } catch (error) {
      log.warn({ error: String(error) }, 'packing finished days failed; tried again later')
    }
    cancel = clock.after(again, seal)
  }
  seal()
  const daily: ScheduledTask = schedule(
    DAILY,
    () => {
      try {
        const { blocks } = store.prune(clock.now(), keepDays)
        if (blocks > 0) log.info({ blocks }, 'old samples dropped')
      } catch (error) {
        log.warn({ error: String(error) }, 'dropping old samples failed; tried again tomorrow')
      }
    },
    { timezone: 'Etc/UTC', noOverlap: true, name: 'prune' },
  )
  return {
    stop() {
      stopped = true
      cancel?.()
      void daily.destroy()
    },
  }
}
