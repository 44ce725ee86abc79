/** The month and the week by mail: composed of what is stored, once each, for the people who asked for it. */
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Period } from '../show/report/gather.js'
import { monthOf, monthOver, weekOver } from '../show/report/period.js'
import { readReport } from '../show/report/read.js'
import { reportForm, topSentence } from '../show/report/words.js'
import { placeName } from '../tell/alarm-forms.js'
import { joinKey } from '../tell/key.js'
import { subjectLine } from '../tell/line.js'
import { localMinute } from '../tell/local-time.js'
import { toHtml, toText } from '../tell/sections.js'
import { shortForm } from '../tell/short.js'

/** 08:00 by the wall clock of the place: late data of the last night has come, and nobody is woken. */
const AT_MINUTE = 480
/** A report that could not be made by then (the daemon was off) is read with `sightglass report` instead. */
const LATE_MS = 3 * 86_400_000

/**
 * The messages due at `now`: asked again at every round, each report makes one message for each person and way. Empty
 * before 08:00, or when the period has been over for more than three days.
 */
export function reportMail(store: Store, site: SiteSettings, now: Ms, known: (key: string) => boolean): Message[] {
  const { monthly, weekly } = site.tell.report
  if ((monthly.length === 0 && weekly.length === 0) || localMinute(now, site.timezone) < AT_MINUTE) return []
  const month = monthly.length === 0 ? null : monthOf(monthOver(now, site.timezone), site.timezone)
  const week = weekly.length === 0 ? null : weekOver(now, site.timezone)
  return [
    ...(month === null ? [] : ofPeriod(store, site, month, monthly, now, known)),
    ...(week === null ? [] : ofPeriod(store, site, week, weekly, now, known)),
  ]
}

function ofPeriod(
  store: Store,
  site: SiteSettings,
  period: Period,
  people: readonly string[],
  now: Ms,
  known: (key: string) => boolean,
): Message[] {
  if (now - period.to > LATE_MS) return []
  const wanted = site.tell.people
    .filter(({ name }) => people.includes(name))
    .flatMap(({ name, ways }) => ways.map((way) => ({ person: name, way, key: keyOf(site, period, name, way) })))
    .filter(({ key }) => !known(key))
  if (wanted.length === 0) return []
  const report = readReport(store, site, period, now)
  const form = reportForm(report)
  const sentence = topSentence(report)
  const text = toText(form)
  const html = toHtml(form)
  const short = shortForm({
    place: placeName(site),
    what: `${period.name}: ${sentence}`,
    more: [],
    action: null,
    link: null,
  })
  return wanted.flatMap(({ person, way, key }) => {
    const settings = site.tell.ways.find(({ id }) => id === way)
    if (settings === undefined) return []
    return [
      {
        site: site.id,
        key,
        kind: 'report' as const,
        person,
        way,
        about: '',
        priority: 'low' as const,
        at: period.to,
        subject: subjectLine('', placeName(site), period.name).slice(0, LIMITS.subjectCharsMax),
        text,
        html: settings.kind === 'email' && !settings.short ? html : null,
        short,
        due: now,
      },
    ]
  })
}

function keyOf(site: SiteSettings, period: Period, person: string, way: string): string {
  return joinKey(['report', site.id, period.kind, period.firstDate, person, way])
}
