/** From a notice of the judge to rows of the outbox: who is told, by which ways, in which words, and when. */
import { type Alarm, atLeast, type Notice } from '../model/alarm.js'
import type { Message, MessageKind } from '../model/message.js'
import type { PersonSettings, SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { alarmForms, type Said } from './alarm-forms.js'
import { dueAt } from './hold.js'
import { messageKey } from './key.js'
import { toHtml, toText } from './sections.js'

/** The address of the one-tap acknowledgement for one person, or null where there is no page to reach. */
export type LinkMaker = (alarmKey: string, person: string, raised: Ms, site: string) => string | null

export type ComposeOptions = {
  readonly now: Ms
  readonly link: LinkMaker
  /**
   * Whether a message with this key was ever put into the outbox. Lets the all-clear reach those who heard of the
   * alarm only because nobody else answered. Without it they are not told that it is over.
   */
  readonly wasTold?: (key: string) => boolean
}

export type PersonMessages = {
  readonly alarm: Alarm
  readonly said: Said
  readonly noticeAt: Ms
  readonly person: PersonSettings
  readonly site: SiteSettings
  readonly link: LinkMaker
  readonly due: Ms
}

/** One message to one person for each of their ways, all with the same words. */
export function messagesTo({ alarm, said, noticeAt, person, site, link, due }: PersonMessages): readonly Message[] {
  const forms = alarmForms({
    notice: { at: noticeAt, alarm },
    said,
    site,
    link: link(alarm.key, person.name, alarm.raised, site.id),
  })
  const kind: MessageKind = said === 'cleared' ? 'all-clear' : 'alarm'
  const text = toText(forms.long)
  const html = toHtml(forms.long)
  return person.ways.flatMap((id) => {
    const way = site.tell.ways.find((settings) => settings.id === id)
    if (way === undefined) return []
    return [
      {
        site: site.id,
        key: messageKey({ site: site.id, alarm, reason: said, at: noticeAt, person: person.name, way: id }),
        kind,
        person: person.name,
        way: id,
        about: alarm.key,
        priority: alarm.priority,
        at: said === 'cleared' ? (alarm.cleared ?? noticeAt) : alarm.since,
        subject: forms.subject,
        text,
        html: way.kind === 'email' && !way.short ? html : null,
        short: forms.short,
        due,
      },
    ]
  })
}

/** Whether this person is to hear of the notice at all. */
function concerns(person: PersonSettings, notice: Notice, site: SiteSettings, options: ComposeOptions): boolean {
  if (atLeast(notice.alarm.priority, person.least)) return true
  if (notice.reason !== 'cleared' || options.wasTold === undefined) return false
  const { wasTold } = options
  return person.ways.some((way) =>
    wasTold(messageKey({ site: site.id, alarm: notice.alarm, reason: 'escalated', at: 0, person: person.name, way })),
  )
}

/**
 * The messages that a notice asks for, one per person and way. Calling it again for the same notice gives the same
 * keys, so the outbox drops the repeats.
 */
export function compose(notice: Notice, site: SiteSettings, options: ComposeOptions): Message[] {
  const { now, link } = options
  const kind: MessageKind = notice.reason === 'cleared' ? 'all-clear' : 'alarm'
  return site.tell.people
    .filter((person) => concerns(person, notice, site, options))
    .flatMap((person) =>
      messagesTo({
        alarm: notice.alarm,
        said: notice.reason,
        noticeAt: notice.at,
        person,
        site,
        link,
        due: dueAt(person, site, { priority: notice.alarm.priority, kind, now }),
      }),
    )
}
