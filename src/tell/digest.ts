/** One message for many: what was held over the night, and what came and went while nothing could be sent. */
import { PRIORITIES } from '../model/alarm.js'
import { formatLocalTime } from '../model/format.js'
import { LIMITS } from '../model/limits.js'
import type { Message, OutboxRow } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { placeName } from './alarm-forms.js'
import { joinKey } from './key.js'
import { cutLine, subjectLine } from './line.js'
import { zoneWords } from './local-time.js'
import { list, prose, type Section, toHtml, toText } from './sections.js'
import { shortForm } from './short.js'

/** `held`: by quiet hours or for the morning; `missed`: over before any message about it could be delivered. */
export type DigestWhy = 'held' | 'missed'

export type Story = {
  /** One line: what, from when, and until when or that it still stands. */
  readonly line: string
  readonly title: string
  readonly cleared: boolean
  /** The message in full, for what still stands. */
  readonly full: string | null
}

function titleOf(row: OutboxRow, site: SiteSettings): string {
  return row.subject.replace(`${placeName(site)}: `, '')
}

function story(rows: readonly OutboxRow[], site: SiteSettings): Story {
  const time = (at: Ms) => formatLocalTime(at, site.timezone)
  const over = rows.findLast(({ kind }) => kind === 'all-clear')
  const told = rows.findLast(({ kind }) => kind !== 'all-clear')
  const first = rows.find(({ kind }) => kind !== 'all-clear')
  const last = rows.at(-1)
  if (told === undefined || first === undefined) {
    // Told before the night and over now: the all-clear speaks for itself.
    const title = over === undefined ? '' : titleOf(over, site)
    return { line: over === undefined ? '' : `${title} (${time(over.at)})`, title, cleared: true, full: null }
  }
  const title = titleOf(told, site)
  if (over !== undefined && last?.kind === 'all-clear') {
    return { line: `Cleared: ${title}, ${time(first.at)} to ${time(over.at)}`, title, cleared: true, full: null }
  }
  return { line: `Not cleared: ${title}, since ${time(told.at)}`, title, cleared: false, full: told.text }
}

/** Rows by alarm, in the order in which each was first written. */
export function byAlarm(rows: readonly OutboxRow[]): readonly (readonly OutboxRow[])[] {
  const groups = new Map<string, OutboxRow[]>()
  for (const row of [...rows].sort((a, b) => a.id - b.id)) {
    const group = groups.get(row.about)
    if (group === undefined) groups.set(row.about, [row])
    else group.push(row)
  }
  return [...groups.values()]
}

const OPENING: Readonly<Record<DigestWhy, string>> = {
  held: 'This was kept for you until now:',
  missed: 'These came and went before a message about them got through:',
}

function countWords(stories: readonly { readonly cleared: boolean }[]): string {
  const standing = stories.filter(({ cleared }) => !cleared).length
  const over = stories.length - standing
  const parts = [standing > 0 ? `${standing} not cleared` : '', over > 0 ? `${over} cleared` : '']
  return parts.filter((part) => part !== '').join(', ')
}

/** Lines of an earlier digest that never got out and is taken up by this one. */
function earlierLines(rows: readonly OutboxRow[]): readonly string[] {
  return rows.flatMap(({ text }) => text.split('\n').flatMap((line) => (line.startsWith('- ') ? [line.slice(2)] : [])))
}

export type DigestRequest = {
  /** All to one person by one way of one site; at least one. */
  readonly rows: readonly OutboxRow[]
  readonly why: DigestWhy
  readonly site: SiteSettings
  readonly now: Ms
}

/** The prefix of a digest's key, by which a digest that could not be delivered is found again. */
export function digestKey({ why, site, rows }: Pick<DigestRequest, 'why' | 'site' | 'rows'>): string {
  const ids = rows.map(({ id }) => id)
  const [row] = rows
  return joinKey(['digest', why, site.id, row?.person ?? '', row?.way ?? '', Math.min(...ids), Math.max(...ids)])
}

export function isMissedDigest(row: Pick<OutboxRow, 'key' | 'kind'>): boolean {
  return row.kind === 'digest' && row.key.startsWith('digest/missed/')
}

/** The digest of these rows: a line for each alarm, cleared ones marked; what still stands follows in full. */
export function digest(request: DigestRequest): Message {
  const { rows, why, site, now } = request
  const stories = byAlarm(rows.filter(({ kind }) => kind !== 'digest')).map((group) => story(group, site))
  const earlier = earlierLines(rows.filter(isMissedDigest))
  const all = [...earlier.map(() => ({ cleared: true })), ...stories]
  const standing: Section[] = stories.flatMap(({ full }) =>
    full === null ? [] : [{ heading: '— — —', form: 'block', lines: [full.trimEnd()] }],
  )
  const what = `${all.length} ${all.length === 1 ? 'message' : 'messages'} (${countWords(all)})`
  const long = {
    title: subjectLine('', placeName(site), what),
    sections: [
      {
        ...list(OPENING[why], [...earlier, ...stories.map(({ line }) => line)]),
        struck: all.map(({ cleared }) => cleared),
      },
      ...standing,
      prose(null, `Times are local, ${zoneWords(now, site.timezone)}.`),
    ],
    link: null,
  }
  const [first] = rows
  const settings = site.tell.ways.find(({ id }) => id === first?.way)
  return {
    site: site.id,
    key: digestKey(request),
    kind: 'digest',
    person: first?.person ?? '',
    way: first?.way ?? '',
    about: '',
    priority: PRIORITIES.find((level) => rows.some(({ priority }) => priority === level)) ?? 'low',
    at: Math.min(...rows.map(({ at }) => at)),
    subject: cutLine(long.title, LIMITS.subjectCharsMax),
    text: toText(long),
    html: settings?.kind === 'email' && !settings.short ? toHtml(long) : null,
    short: shortForm({
      place: placeName(site),
      what,
      more: stories.map(({ cleared, title }) => (cleared ? `cleared: ${title}` : title)),
      action: null,
      link: null,
    }),
    due: now,
  }
}
