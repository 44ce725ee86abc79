/** From the ways of the configuration to ways that send. */
import type { SiteSettings, WaySettings } from '../../model/settings.js'
import type { Ms } from '../../model/time.js'
import type { Way } from '../way.js'
import { wayAddress } from '../way-book.js'
import { createEmailWay } from './email.js'
import { createMqttWay, type Publish } from './mqtt.js'
import { createWebPushWay } from './web-push.js'
import { createWebhookWay } from './webhook.js'

export type WayTools = { readonly now: () => Ms; readonly publish: Publish }

function openWay(settings: WaySettings, { now, publish }: WayTools): Way {
  switch (settings.kind) {
    case 'email':
      return createEmailWay(settings, now)
    case 'webhook':
      return createWebhookWay(settings, now)
    case 'mqtt':
      return createMqttWay(settings, publish)
    case 'web-push':
      return createWebPushWay()
  }
}

/** Every way of every site, by `wayAddress(site, way)`. Nothing is connected yet. */
export function openWays(sites: readonly SiteSettings[], tools: WayTools): ReadonlyMap<string, Way> {
  return new Map(sites.flatMap(({ id, tell }) => tell.ways.map((way) => [wayAddress(id, way.id), openWay(way, tools)])))
}
