/** What the daemon says outward by itself: that all is well, and the readings that go up to a second daemon. */
import type { DaemonSettings, UplinkSettings } from '../model/settings.js'
import { SECOND } from '../model/time.js'
import { createUplinkClient } from '../receive/uplink-client.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import { environment } from '../runtime/environment.js'
import type { Log } from '../runtime/log.js'
import { createServiceManager } from '../runtime/service-manager.js'
import { createBeat } from '../tell/beat.js'
import type { Line } from './line.js'
import { loop } from './loop.js'
import { createFramer } from './uplink/framer.js'
import { createUplink } from './uplink/sender.js'

export type OutwardOptions = { readonly settings: DaemonSettings; readonly clock: Clock; readonly log: Log }

const UPLINK_MS = 5 * SECOND

/** "All is well", outward and to systemd, as far as either is asked for. */
export function startBeat({ settings, clock, log }: OutwardOptions, prove: () => readonly string[]): { stop(): void } {
  const after = clock.after
  const sites = settings.sites.map(({ id }) => id)
  const beat = settings.beat === null ? null : createBeat({ settings: settings.beat, sites, clock, after, log, prove })
  beat?.start()
  const manager = createServiceManager({ env: environment, after, log, failing: prove })
  manager.ready()
  return {
    stop() {
      beat?.stop()
      manager.stop()
    },
  }
}

/** Sends what is kept here up to a second daemon, as the link allows. */
export function startUplink(settings: UplinkSettings, { clock, log }: OutwardOptions, store: Store, line: Line) {
  const client = createUplinkClient({ settings })
  const framer = createFramer(store, line)
  const uplink = createUplink({ settings, store, framer, carry: client.carry, clock, log })
  const complain = (error: unknown): void => log.warn({ error: String(error) }, 'the uplink failed; tried again')
  const stopLoop = loop(
    clock,
    () => {
      uplink.tick().catch(complain)
      return UPLINK_MS
    },
    log,
  )
  return {
    stop: async () => {
      stopLoop()
      await client.close()
    },
  }
}
