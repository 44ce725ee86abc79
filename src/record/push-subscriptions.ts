import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'

/** A browser that a person asked to be told by (Push API, W3C; keys as RFC 8291 names them, base64url). */
export type PushSubscription = {
  readonly endpoint: string
  readonly p256dh: string
  readonly auth: string
}

export type PushSubscriptions = {
  /** Keeps it, or renews it; a person has at most `most` by one way, and the oldest goes. */
  add(site: string, person: string, way: string, subscription: PushSubscription, at: Ms, most: number): void
  list(site: string, person: string, way: string): readonly PushSubscription[]
  /** Returns whether there was one. */
  remove(endpoint: string): boolean
}

export function createPushSubscriptions(sql: Sql): PushSubscriptions {
  const put = sql.prepare<[string, string, string, string, string, string, Ms]>(
    'keep a push subscription',
    `INSERT INTO push_subscription (endpoint, site, person, way, p256dh, auth, added) VALUES (?, ?, ?, ?, ?, ?, ?)
     ON CONFLICT (endpoint) DO UPDATE SET site = excluded.site, person = excluded.person, way = excluded.way,
     p256dh = excluded.p256dh, auth = excluded.auth, added = excluded.added`,
  )
  const list = sql.prepare<[string, string, string], PushSubscription>(
    'read push subscriptions',
    `SELECT endpoint, p256dh, auth FROM push_subscription
     WHERE site = ? AND person = ? AND way = ? ORDER BY added DESC, endpoint`,
  )
  const remove = sql.prepare<[string]>('drop a push subscription', 'DELETE FROM push_subscription WHERE endpoint = ?')
  return {
    add: (site, person, way, { endpoint, p256dh, auth }, at, most) =>
      sql.transaction(() => {
        put.run(endpoint, site, person, way, p256dh, auth, at)
        for (const old of list.all(site, person, way).slice(most)) remove.run(old.endpoint)
      }),
    list: (site, person, way) => list.all(site, person, way),
    remove: (endpoint) => remove.run(endpoint) > 0,
  }
}
