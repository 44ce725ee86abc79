/** One browser fewer is told: said once, by the ways that are left to the person. */
import { formatLocalTime } from '../model/format.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { placeName } from './alarm-forms.js'
import { joinKey } from './key.js'
import { subjectLine } from './line.js'
import { prose, toHtml, toText } from './sections.js'
import { shortForm } from './short.js'

export type GoneBrowser = { readonly person: string; readonly way: string; readonly endpoint: string }

export function browserGone(site: SiteSettings, { person, way, endpoint }: GoneBrowser, now: Ms): readonly Message[] {
  const place = placeName(site)
  const what = 'a phone or browser no longer gets alarms'
  const action = 'Open the page on it and ask to be told again.'
  const long = {
    title: `${place}: ${what}`,
    sections: [
      prose(
        null,
        `The push service says since ${formatLocalTime(now, site.timezone)} that one of your phones or browsers is gone. It gets no alarms any more by the way "${way}".`,
      ),
      prose('What to do', action),
    ],
    link: null,
  }
  const others = site.tell.people.find(({ name }) => name === person)?.ways.filter((id) => id !== way) ?? []
  return others.flatMap((id) => {
    const settings = site.tell.ways.find((one) => one.id === id)
    if (settings === undefined || settings.kind === 'web-push') return []
    return [
      {
        site: site.id,
        key: joinKey(['gone', site.id, endpoint, person, id]),
        kind: 'service' as const,
        person,
        way: id,
        about: '',
        priority: 'low' as const,
        at: now,
        subject: subjectLine('', place, what),
        text: toText(long),
        html: settings.kind === 'email' && !settings.short ? toHtml(long) : null,
        short: shortForm({ place, what, more: [], action, link: null }),
        due: now,
      },
    ]
  })
}
