/** The browsers that people asked to be told by, as the store keeps them. */
import type { DaemonSettings } from '../model/settings.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import type { Log } from '../runtime/log.js'
import { browserGone } from '../tell/browser-gone.js'
import type { Browsers } from '../tell/ways/web-push.js'

type Options = { readonly settings: DaemonSettings; readonly clock: Clock; readonly log: Log }

export function browsersOf({ settings, clock, log }: Options, store: Store): Browsers {
  return {
    list: (site, person, way) => store.push.list(site, person, way),
    gone(siteId, person, way, endpoint) {
      const site = settings.sites.find(({ id }) => id === siteId)
      if (site === undefined) return
      store.transaction(() => {
        if (!store.push.remove(endpoint)) return
        for (const message of browserGone(site, { person, way, endpoint }, clock.now())) store.outbox.add(message)
      })
      log.warn({ site: siteId, person, way }, 'a browser is gone: its push service says so')
    },
  }
}
