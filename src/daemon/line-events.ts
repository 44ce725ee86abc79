/** What the line finds goes to whoever started the daemon, and to the pages that listen. */
import type { Notice } from '../model/alarm.js'
import type { FillCycle } from '../model/fill.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { ShowEvent } from '../show/source.js'
import type { LineEvents } from './line.js'
import type { PastStore } from './past-store.js'

type Listeners = {
  readonly clock: { now(): Ms }
  readonly onFills?: (site: SiteSettings, cycles: readonly FillCycle[]) => void
  readonly onNotices?: (site: SiteSettings, notices: readonly Notice[]) => void
}

export function lineEvents(options: Listeners, say: (event: ShowEvent) => void, pastStore: PastStore): LineEvents {
  const now = (): Ms => options.clock.now()
  return {
    onFill: (site, cycles) => {
      options.onFills?.(site, cycles)
      say({ site: site.id, kind: 'cycles', at: now() })
    },
    onNotices: (site, notices) => {
      options.onNotices?.(site, notices)
      say({ site: site.id, kind: 'alarms', at: now() })
    },
    onFacts: (site) => say({ site: site.id, kind: 'now', at: now() }),
    onUnwritten: (messages) => pastStore.add(messages),
  }
}
