/** From the ways of the configuration to ways that send. */
import type { SiteSettings, WaySettings } from '../../model/settings.js'
import type { Ms } from '../../model/time.js'
import { failed, type Way } from '../way.js'
import { wayAddress } from '../way-book.js'
import { publicLookup } from '../public-lookup.js'
import type { Pictures } from '../picture/picture.js'
import { createEmailWay } from './email.js'
import { createMqttWay, type Publish } from './mqtt.js'
import { type Browsers, createWebPushWay, pushKeys } from './web-push.js'
import { createWebhookWay } from './webhook.js'

export type WayTools = {
  readonly now: () => Ms
  /** What is drawn into mails; absent: nothing. */
  readonly pictures?: Pictures
  readonly publish: Publish
  /** Who is told by web push, and 32 secret bytes from which its key pair is made; absent: nobody can be. */
  readonly push?: { readonly secret: Uint8Array; readonly browsers: Browsers }
}

const NO_BROWSERS: Way = {
  kind: 'web-push',
  send: async () => failed(false, 'only the running daemon knows the browsers that asked to be told'),
}

function openWay(settings: WaySettings, { now, publish, push, pictures }: WayTools): Way {
  switch (settings.kind) {
    case 'email':
      return createEmailWay(settings, now, pictures)
    case 'webhook':
      return createWebhookWay(settings, now)
    case 'mqtt':
      return createMqttWay(settings, publish)
    case 'web-push':
      return push === undefined
        ? NO_BROWSERS
        : createWebPushWay(settings, {
            keys: pushKeys(push.secret),
            browsers: push.browsers,
            now,
            lookup: publicLookup(),
          })
  }
}

/** Every way of every site, by `wayAddress(site, way)`. Nothing is connected yet. */
export function openWays(sites: readonly SiteSettings[], tools: WayTools): ReadonlyMap<string, Way> {
  return new Map(sites.flatMap(({ id, tell }) => tell.ways.map((way) => [wayAddress(id, way.id), openWay(way, tools)])))
}
