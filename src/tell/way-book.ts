/** What is known of each way: when it last worked, since when it has not, and what that means for each person. */
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { OutboxStore } from './outbox-store.js'

export type WayState = {
  readonly site: string
  readonly way: string
  readonly provedAt: Ms | null
  readonly failingSince: Ms | null
  readonly error: string | null
}

/** A person whom nothing reaches. */
export type Unreachable = { readonly person: string; readonly since: Ms; readonly error: string }

export type WayBook = {
  get(site: string, way: string): WayState
  worked(site: string, way: string, at: Ms): void
  failed(site: string, way: string, at: Ms, error: string): void
  list(site: string): readonly WayState[]
  unreachable(site: SiteSettings): readonly Unreachable[]
}

/** The address of a way across sites. */
export function wayAddress(site: string, way: string): string {
  return JSON.stringify([site, way])
}

/** A book that begins with what the store remembers, so that a restart forgets no failure. */
export function openWayBook(sites: readonly SiteSettings[], store: Pick<OutboxStore, 'ways'>): WayBook {
  const states = new Map<string, WayState>()
  for (const { id: site } of sites) {
    for (const { way, provedAt, error, errorAt } of store.ways.list(site)) {
      states.set(wayAddress(site, way), { site, way, provedAt, failingSince: error === null ? null : errorAt, error })
    }
  }
  const get = (site: string, way: string): WayState =>
    states.get(wayAddress(site, way)) ?? { site, way, provedAt: null, failingSince: null, error: null }

  return {
    get,
    worked(site, way, at) {
      states.set(wayAddress(site, way), { site, way, provedAt: at, failingSince: null, error: null })
    },
    failed(site, way, at, error) {
      const before = get(site, way)
      states.set(wayAddress(site, way), { ...before, failingSince: before.failingSince ?? at, error })
    },
    list: (site) => [...states.values()].filter((state) => state.site === site),
    unreachable(site) {
      return site.tell.people.flatMap((person) => {
        const all = person.ways.map((way) => get(site.id, way))
        const since = all.flatMap(({ failingSince }) => (failingSince === null ? [] : [failingSince]))
        if (all.length === 0 || since.length < all.length) return []
        const errors = all.map(({ way, error }) => `${way}: ${error ?? 'failing'}`)
        return [{ person: person.name, since: Math.max(...since), error: errors.join('; ') }]
      })
    },
  }
}
