/** A message as a JSON object for other programs. Its form is described in docs/telling.md. */
import type { Message } from '../model/message.js'
import { stableId } from './key.js'

export type Payload = {
  readonly version: 1
  /** The same for every repeat of one message. */
  readonly id: string
  readonly kind: Message['kind']
  readonly site: string
  readonly person: string
  /** `id:subject` of the alarm, or null. */
  readonly alarm: string | null
  readonly priority: Message['priority']
  /** When what it tells happened, ISO 8601, UTC. */
  readonly at: string
  readonly subject: string
  readonly text: string
  readonly short: string
}

export function payloadOf(message: Message): Payload {
  const { key, kind, site, person, about, priority, at, subject, text, short } = message
  return {
    version: 1,
    id: stableId(key),
    kind,
    site,
    person,
    alarm: about === '' ? null : about,
    priority,
    at: new Date(at).toISOString(),
    subject,
    text,
    short,
  }
}
