/**
 * Whether people can be told, said at home too: a retained message on the broker, for a lamp or a script beside the
 * house, since what cannot be sent to town cannot be told by what fails. Said when it changes, and again now and then,
 * so that its age tells a daemon that is dead.
 */
import { LIMITS } from '../model/limits.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Log } from '../runtime/log.js'
import type { Publish } from '../tell/ways/mqtt.js'
import type { Teller } from '../tell/teller.js'

export type TellingTopicOptions = {
  readonly sites: readonly SiteSettings[]
  readonly teller: Pick<Teller, 'unreachable' | 'failingSince'>
  readonly publish: Publish
  readonly log: Log
}

export type TellingTopic = {
  /** Publishes what is due. Returns at once; what fails is tried again. */
  run(now: Ms): void
}

type Said = { state: string; at: Ms; busy: boolean; complained: boolean }

export function tellingTopic(site: string): string {
  return `water/${site}/telling`
}

export function createTellingTopic({ sites, teller, publish, log }: TellingTopicOptions): TellingTopic {
  const said = new Map<string, Said>()
  // A board may have been given this very topic; its words are not written over.
  const free = sites.filter(({ id, boards }) => boards.every(({ topic }) => topic !== tellingTopic(id)))

  const say = (site: SiteSettings, state: string, now: Ms, book: Said): void => {
    book.busy = true
    publish(tellingTopic(site.id), JSON.stringify({ ...JSON.parse(state), at: new Date(now).toISOString() }), {
      retain: true,
    })
      .then(() => Object.assign(book, { state, at: now, complained: false }))
      .catch((error: unknown) => {
        if (!book.complained)
          log.warn({ site: site.id, error: String(error) }, 'the telling topic could not be written')
        // Not each second while the broker is away.
        Object.assign(book, { at: now - LIMITS.tellingTopicMs + LIMITS.tellingTopicRetryMs, complained: true })
      })
      .finally(() => {
        book.busy = false
      })
  }

  return {
    run(now) {
      for (const site of free) {
        const book = said.get(site.id) ?? { state: '', at: Number.NEGATIVE_INFINITY, busy: false, complained: false }
        said.set(site.id, book)
        if (book.busy) continue
        const state = stateOf(site, teller)
        const changed = state !== book.state && !book.complained
        if (changed || now - book.at >= LIMITS.tellingTopicMs || now < book.at) say(site, state, now, book)
      }
    },
  }
}

function stateOf({ id, tell }: SiteSettings, teller: TellingTopicOptions['teller']): string {
  const untold = teller.unreachable(id)
  const since = teller.failingSince(id)
  return JSON.stringify({
    version: 1,
    state: untold.length > 0 ? 'failing' : tell.people.length === 0 ? 'nobody' : 'ok',
    since: since === null ? null : new Date(since).toISOString(),
    people: untold.map(({ person }) => person),
    reason: untold[0]?.error ?? null,
  })
}
