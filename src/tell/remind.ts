/** Telling again what nobody has answered: seldom, and not for ever. */
import { type Alarm, atLeast } from '../model/alarm.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import { type Ms, SECOND } from '../model/time.js'
import { messagesTo } from './compose.js'
import { type EscalateOptions, mayHearNow, unanswered } from './escalate.js'

/**
 * The latest instant at or before `now` at which this alarm was to be told again; null: none. A critical alarm is told
 * again after `afterS` and then every `everyS`; one of high priority only every `everyS`: its first day belongs to the
 * alarm, the escalation and the all-clear.
 */
export function reminderAt(alarm: Alarm, { tell }: SiteSettings, now: Ms): Ms | null {
  const { afterS, everyS, most } = tell.repeat
  const first = alarm.raised + (alarm.priority === 'critical' ? afterS : everyS) * SECOND
  if (now < first || most < 1) return null
  const later = Math.min(most - 1, Math.floor((now - first) / (everyS * SECOND)))
  return first + later * everyS * SECOND
}

/**
 * The reminders due now, to those who were told of the alarm by its priority. Asked again at every round; each
 * instant makes one message. After a long stop only the latest is made up for.
 */
export function reminders(
  active: readonly Alarm[],
  site: SiteSettings,
  now: Ms,
  { link, alreadyTold }: EscalateOptions,
): Message[] {
  return active
    .filter(unanswered)
    .flatMap((alarm) => {
      const at = reminderAt(alarm, site, now)
      if (at === null) return []
      return site.tell.people
        .filter((person) => atLeast(alarm.priority, person.least) && mayHearNow(person, alarm, site, now))
        .flatMap((person) => messagesTo({ alarm, said: 'reminder', noticeAt: at, person, site, link, due: now }))
    })
    .filter(({ key }) => !alreadyTold(key))
}
