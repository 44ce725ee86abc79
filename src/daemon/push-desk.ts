/** The page's part in web push: who can be told by it, and which browsers asked. */
import { LIMITS } from '../model/limits.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { ShowSource } from '../show/source.js'
import { pushKeys } from '../tell/ways/web-push.js'

type PushDesk = Pick<ShowSource, 'pushKey' | 'pushPeople' | 'addBrowser' | 'removeBrowser'>

export function createPushDesk(store: Store, siteOf: (id: string) => SiteSettings, now: () => Ms): PushDesk {
  const ways = (id: string): readonly { person: string; way: string }[] => {
    const { people, ways: all } = siteOf(id).tell
    const push = new Set(all.flatMap((way) => (way.kind === 'web-push' ? [way.id] : [])))
    return people.flatMap(({ name, ways: own }) =>
      own.filter((way) => push.has(way)).map((way) => ({ person: name, way })),
    )
  }
  return {
    pushKey: () => pushKeys(store.secret('web-push')).publicKey,
    pushPeople: (id) =>
      ways(id).map(({ person, way }) => ({ person, way, browsers: store.push.list(id, person, way).length })),
    addBrowser(id, person, way, browser, by) {
      if (!ways(id).some((one) => one.person === person && one.way === way)) return false
      const at = now()
      store.transaction(() => {
        store.push.add(id, person, way, browser, at, LIMITS.pushBrowsersMax)
        const text = `A browser is told of alarms as ${person} (${way}).`
        store.journal.add({ site: id, at, by, text, newBaseline: false })
      })
      return true
    },
    removeBrowser: (endpoint) => {
      store.push.remove(endpoint)
    },
  }
}
