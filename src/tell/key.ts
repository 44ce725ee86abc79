/** Names of messages: the same thing to the same person by the same way always has the same one. */
import { createHash } from 'node:crypto'
import type { Alarm, NoticeReason } from '../model/alarm.js'

export type KeyParts = {
  readonly site: string
  readonly alarm: Pick<Alarm, 'key' | 'raised' | 'priority'>
  readonly reason: NoticeReason | 'escalated'
  /** When the notice was given; tells one reminder from the next. */
  readonly at: number
  readonly person: string
  readonly way: string
}

/** Parts joined so that no part can pass for two. */
export function joinKey(parts: readonly (string | number)[]): string {
  return parts.map((part) => encodeURIComponent(String(part))).join('/')
}

/**
 * The key of a message about an alarm. One occurrence is raised, cleared and escalated once; it may grow worse once
 * for each priority and be recalled many times.
 */
export function messageKey({ site, alarm, reason, at, person, way }: KeyParts): string {
  const said = reason === 'worsened' ? `worsened:${alarm.priority}` : reason === 'reminder' ? `reminder:${at}` : reason
  return joinKey([site, alarm.key, alarm.raised, said, person, way])
}

/** A key as 32 hexadecimal digits, fit for a header or a Message-ID whatever letters the key has. */
export function stableId(key: string): string {
  return createHash('sha256').update(key, 'utf8').digest('hex').slice(0, 32)
}
