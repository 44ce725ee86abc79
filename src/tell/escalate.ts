/** Telling the next person when nobody answers. */
import type { Alarm } from '../model/alarm.js'
import type { Message } from '../model/message.js'
import type { PersonSettings, SiteSettings } from '../model/settings.js'
import { type Ms, SECOND } from '../model/time.js'
import { type LinkMaker, messagesTo } from './compose.js'
import { inQuiet } from './hold.js'

export type EscalateOptions = { readonly link: LinkMaker; readonly alreadyTold: (key: string) => boolean }

/** High and critical, standing, told, and answered by nobody. Shelved and suppressed ones have been dealt with. */
export function unanswered(alarm: Alarm): boolean {
  return (
    (alarm.priority === 'critical' || alarm.priority === 'high') &&
    (alarm.state === 'unacknowledged' || alarm.state === 'latched') &&
    alarm.cleared === null &&
    alarm.acknowledgedAt === null &&
    alarm.explainedBy === null
  )
}

/**
 * In a person's quiet hours what is not critical is left for later instead of being queued: by the end of the night
 * somebody may have answered, and a queued message could not be taken back.
 */
export function mayHearNow(person: PersonSettings, alarm: Alarm, site: SiteSettings, now: Ms): boolean {
  return alarm.priority === 'critical' || !inQuiet(now, person.quiet, site.timezone)
}

/**
 * The messages due to the people of `escalate.to` because an alarm has stood unanswered for `escalate.afterS`.
 * Asked again at every round; each person hears of one occurrence once.
 */
export function escalations(
  active: readonly Alarm[],
  site: SiteSettings,
  now: Ms,
  { link, alreadyTold }: EscalateOptions,
): Message[] {
  const { escalate, people } = site.tell
  if (escalate === null) return []
  const due = active.filter((alarm) => unanswered(alarm) && now - alarm.raised >= escalate.afterS * SECOND)
  const next = people.filter(({ name }) => escalate.to.includes(name))
  return due
    .flatMap((alarm) =>
      next
        .filter((person) => mayHearNow(person, alarm, site, now))
        .flatMap((person) => messagesTo({ alarm, said: 'escalated', noticeAt: now, person, site, link, due: now })),
    )
    .filter(({ key }) => !alreadyTold(key))
}
