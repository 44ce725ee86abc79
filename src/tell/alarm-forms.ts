/** What a notice about an alarm says, in its three forms: subject, long form, and 160 characters. */
import type { Alarm, Evidence, Notice, NoticeReason } from '../model/alarm.js'
import { formatDuration, formatLocalClock, formatLocalTime, formatQuantity } from '../model/format.js'
import type { SiteSettings } from '../model/settings.js'
import { subjectLine } from './line.js'
import { zoneWords } from './local-time.js'
import { type LongForm, list, prose, type Section } from './sections.js'
import { type ShortParts, shortForm } from './short.js'

export type Forms = { readonly subject: string; readonly long: LongForm; readonly short: string }

/** Why this message, as far as its words differ. */
export type Said = NoticeReason | 'escalated'

const MARKS: Readonly<Record<Said, string>> = {
  raised: '',
  cleared: 'Over',
  worsened: 'Worse',
  'on-and-off': 'On and off',
  reminder: 'Still',
  escalated: 'Not answered',
}

/** The place as people call it. */
export function placeName(site: SiteSettings): string {
  return site.name === '' ? site.id : site.name
}

function evidenceLine({ label, quantity, value, usual }: Evidence, site: SiteSettings): string {
  const now = formatQuantity(quantity, value, site.units)
  return usual === null ? `${label}: ${now}` : `${label}: ${now} (usual ${formatQuantity(quantity, usual, site.units)})`
}

function whyNow(said: Said, alarm: Alarm, site: SiteSettings): readonly string[] {
  switch (said) {
    case 'raised':
    case 'cleared':
      return []
    case 'worsened':
      return [`This has become worse and is now of ${alarm.priority} priority.`]
    case 'on-and-off':
      return [
        `This has come and gone ${alarm.raisesInDay} times within a day. You will not be told each time; the page shows every change.`,
      ]
    case 'reminder':
      return [`This was first told ${formatLocalTime(alarm.raised, site.timezone)} and nobody has acknowledged it.`]
    case 'escalated':
      return [
        `This was first told ${formatLocalTime(alarm.raised, site.timezone)}; nobody has acknowledged it, so it is handed on to you.`,
      ]
  }
}

function footer(alarm: Alarm, site: SiteSettings): Section {
  const since = `Since ${formatLocalTime(alarm.since, site.timezone)}.`
  const times = `Times are local, ${zoneWords(alarm.since, site.timezone)}.`
  return prose(null, `${placeName(site)}, ${alarm.priority} priority. ${since} ${times}`)
}

function optional(heading: string, words: string | null): readonly Section[] {
  return words === null || words === '' ? [] : [prose(heading, words)]
}

function raisedSections(alarm: Alarm, site: SiteSettings, said: Said): readonly Section[] {
  const { words } = alarm
  return [
    prose(null, words.what, ...whyNow(said, alarm, site)),
    list(
      'The numbers',
      alarm.evidence.map((item) => evidenceLine(item, site)),
    ),
    {
      heading: words.causes.length > 1 ? 'Likely causes, the likeliest first' : 'Likely cause',
      form: words.causes.length > 1 ? 'numbered' : 'prose',
      lines: words.causes,
    },
    ...optional('What to do', words.action),
    ...optional('Take care', words.caution),
    ...optional('How long there is', words.timeLeft),
    ...optional('If nothing is done', words.ifIgnored),
    footer(alarm, site),
  ]
}

function clearedSections(alarm: Alarm, cleared: number, site: SiteSettings): readonly Section[] {
  const from = formatLocalTime(alarm.since, site.timezone)
  const to = formatLocalTime(cleared, site.timezone)
  const answered = alarm.acknowledgedBy === null ? [] : [`Acknowledged by ${alarm.acknowledgedBy}.`]
  return [
    prose(
      null,
      `This is over. It lasted ${formatDuration(cleared - alarm.since)}, from ${from} to ${to}.`,
      ...answered,
    ),
    prose('What it was', alarm.words.what),
    prose(null, `${placeName(site)}. Times are local, ${zoneWords(cleared, site.timezone)}.`),
  ]
}

function shortParts(alarm: Alarm, said: Said, at: number, site: SiteSettings, link: string | null): ShortParts {
  const place = placeName(site)
  const { title, action } = alarm.words
  if (said === 'cleared') {
    const lasted = formatDuration(at - alarm.since)
    return {
      place,
      what: `over at ${formatLocalClock(at, site.timezone)}: ${title}`,
      more: [`lasted ${lasted}`],
      action: null,
      link: null,
    }
  }
  const mark = MARKS[said]
  const [first] = alarm.evidence
  return {
    place,
    what: mark === '' ? title : `${mark}: ${title}`,
    more: [
      `since ${formatLocalClock(alarm.since, site.timezone)}`,
      ...(first === undefined ? [] : [evidenceLine(first, site)]),
    ],
    action,
    link,
  }
}

export type FormsRequest = {
  readonly notice: Pick<Notice, 'at' | 'alarm'>
  readonly said: Said
  readonly site: SiteSettings
  readonly link: string | null
}

/**
 * The words of a notice.
 *
 * @returns a subject of at most 60 characters, the long form, and a short form of at most 160 septets
 */
export function alarmForms({ notice, said, site, link }: FormsRequest): Forms {
  const { alarm } = notice
  const subject = subjectLine(MARKS[said], placeName(site), alarm.words.title)
  const overAt = alarm.cleared ?? notice.at
  const sections = said === 'cleared' ? clearedSections(alarm, overAt, site) : raisedSections(alarm, site, said)
  return {
    subject,
    long: {
      title: MARKS[said] === '' ? alarm.words.title : `${MARKS[said]}: ${alarm.words.title}`,
      sections,
      link: said === 'cleared' || link === null ? null : { words: 'Acknowledge: I have seen this', address: link },
    },
    short: shortForm(shortParts(alarm, said, overAt, site, link)),
  }
}
