/** Telling by MQTT: one JSON object a message, to a topic of the configuration, not retained. */
import type { WaySettings } from '../../model/settings.js'
import { errorWords } from '../attempt.js'
import { payloadOf } from '../payload.js'
import { type Way, wayDown } from '../way.js'

/** Resolves when the broker has taken the message. */
export type Publish = (topic: string, payload: string, options: { readonly retain: boolean }) => Promise<void>

/** The object is the same as a webhook's; a receiver drops repeats by its `id`. */
export function createMqttWay(settings: WaySettings & { readonly kind: 'mqtt' }, publish: Publish): Way {
  return {
    kind: 'mqtt',
    async send(message) {
      try {
        await publish(settings.topic, JSON.stringify(payloadOf(message)), { retain: false })
        return { ok: true }
      } catch (error) {
        return wayDown(`MQTT: ${errorWords(error)}`)
      }
    },
  }
}
