/** What is drawn into mails, from what the store keeps. */
import type { DaemonSettings } from '../model/settings.js'
import type { Store } from '../record/store.js'
import type { Clock } from '../runtime/clock.js'
import { createPictures, type Pictures } from '../tell/picture/picture.js'

type Options = { readonly settings: DaemonSettings; readonly clock: Clock }

export function picturesOf({ settings, clock }: Options, store: Store): Pictures {
  return createPictures({
    sites: settings.sites,
    chart: (site, key, from, to, columns) => store.chart(store.series(site, key), from, to, columns),
    now: () => clock.now(),
  })
}
