/** Test messages: marked as such, to each person by each way, about nothing. */
import { formatLocalTime } from '../model/format.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { placeName } from './alarm-forms.js'
import { type After, afterTimeout, attempt } from './attempt.js'
import { joinKey } from './key.js'
import { subjectLine } from './line.js'
import { localDate, localMinute, zoneWords } from './local-time.js'
import { prose, toHtml, toText } from './sections.js'
import { shortForm } from './short.js'
import type { Way } from './way.js'
import { wayAddress } from './way-book.js'

/** The monthly test goes out in the first week, so that a site that is down on the first day does not miss it. */
const SELF_TEST_LAST_DAY = 7
/** 10:00: nobody is woken, and there is a day left to mend what the test finds. */
const SELF_TEST_MINUTE = 600

export type TestMessageRequest = {
  readonly site: SiteSettings
  /** The person's name, or '' for a way that nobody is told by. */
  readonly person: string
  readonly way: string
  readonly now: Ms
  /** What tells this test from another: repeats of the same are dropped. */
  readonly occasion: string
}

/** One test message. It says that it is one in subject, text and short form. */
export function testMessage({ site, person, way, now, occasion }: TestMessageRequest): Message {
  const place = placeName(site)
  const settings = site.tell.ways.find(({ id }) => id === way)
  const what = 'messages from here reach you'
  const long = {
    title: `TEST: ${what}`,
    sections: [
      prose(
        null,
        'This is a test. Nothing is wrong, and nothing needs to be done.',
        `It was sent by ${place} through the way "${way}" ${formatLocalTime(now, site.timezone)}, ${zoneWords(now, site.timezone)}.`,
        'If alarms come by this way too, there should be nothing between you and them.',
      ),
    ],
    link: null,
  }
  return {
    site: site.id,
    key: joinKey(['test', site.id, occasion, person, way]),
    kind: 'test',
    person,
    way,
    about: '',
    priority: 'low',
    at: now,
    subject: subjectLine('TEST', place, what),
    text: toText(long),
    html: settings?.kind === 'email' && !settings.short ? toHtml(long) : null,
    short: shortForm({ place: `TEST ${place}`, what, more: [], action: 'Nothing is wrong.', link: null }),
    due: now,
  }
}

export type TestResult = {
  readonly way: string
  readonly kind: Way['kind']
  /** Who is told by it; empty: nobody. */
  readonly people: readonly string[]
  readonly ok: boolean
  readonly error: string | null
}

export type TellTestOptions = { readonly ways: ReadonlyMap<string, Way>; readonly now: Ms; readonly after?: After }

/**
 * Sends a test through every way of the site, side by side, each with its own deadline.
 *
 * @returns one result per configured way, in the order of the configuration
 */
export async function tellTest(site: SiteSettings, options: TellTestOptions): Promise<readonly TestResult[]> {
  const { ways, now, after = afterTimeout } = options
  return await Promise.all(
    site.tell.ways.map(async ({ id, kind }) => {
      const people = site.tell.people.filter((person) => person.ways.includes(id)).map(({ name }) => name)
      const way = ways.get(wayAddress(site.id, id))
      if (way === undefined) return { way: id, kind, people, ok: false, error: 'this way could not be opened' }
      const message = testMessage({ site, person: people[0] ?? '', way: id, now, occasion: `asked-${now}` })
      const result = await attempt(way, message, after)
      return { way: id, kind, people, ok: result.ok, error: result.ok ? null : result.error }
    }),
  )
}

/**
 * The monthly self-test: test messages for each person and way, whose key holds the month, so that the outbox takes
 * each once a month however often it is asked. Empty outside the first week, before 10:00, or where it is off.
 */
export function selfTests(site: SiteSettings, now: Ms): readonly Message[] {
  if (site.tell.selfTest !== 'monthly') return []
  const { year, month, day } = localDate(now, site.timezone)
  if (day > SELF_TEST_LAST_DAY || localMinute(now, site.timezone) < SELF_TEST_MINUTE) return []
  const occasion = `${year}-${String(month).padStart(2, '0')}`
  return site.tell.people.flatMap(({ name, ways }) =>
    ways
      .filter((way) => site.tell.ways.some(({ id }) => id === way))
      .map((way) => testMessage({ site, person: name, way, now, occasion })),
  )
}
