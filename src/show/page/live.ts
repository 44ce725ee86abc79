/** Keeps the page fresh: server-sent events where they get through, asking every half minute where not. */
import type { ShowEvent } from '../source.js'
import { siteQuery } from './net.js'

const POLL_MS = 30_000
/** Several events of one look become one question. */
const GATHER_MS = 300
const KINDS: readonly ShowEvent['kind'][] = ['now', 'alarms', 'cycles', 'journal', 'modes']

export type Live = { readonly stop: () => void }

/** Calls `changed` with the kinds of news, gathered; and with `now` at least every half minute while the page is seen. */
export function keepLive(changed: (kinds: ReadonlySet<ShowEvent['kind']>) => void): Live {
  let waiting = new Set<ShowEvent['kind']>()
  let timer: ReturnType<typeof setTimeout> | null = null

  function note(kind: ShowEvent['kind']): void {
    waiting.add(kind)
    timer ??= setTimeout(() => {
      timer = null
      const kinds = waiting
      waiting = new Set()
      changed(kinds)
    }, GATHER_MS)
  }

  const query = siteQuery()
  const events = new EventSource(query === '' ? '/api/events' : `/api/events?${query}`)
  for (const kind of KINDS) events.addEventListener(kind, () => note(kind))
  // Told of nothing while the stream was away: ask at once when it breaks and when it is back.
  events.addEventListener('error', () => note('now'))
  events.addEventListener('open', () => note('now'))
  const poll = setInterval(() => {
    if (document.visibilityState === 'visible' && events.readyState !== EventSource.OPEN) note('now')
  }, POLL_MS)
  const seen = (): void => {
    if (document.visibilityState === 'visible') note('now')
  }
  document.addEventListener('visibilitychange', seen)

  return {
    stop() {
      events.close()
      clearInterval(poll)
      if (timer !== null) clearTimeout(timer)
      document.removeEventListener('visibilitychange', seen)
    },
  }
}
