/** The month and the week by mail: composed of what is stored, once each, for the people who asked for it. */
import { LIMITS } from '../model/limits.js'
import type { Message } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { SizingBody } from '../show/bodies/sizing.js'
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

/** A report that somebody is still to get, and who by what. */
export type DueReport = {
  readonly site: SiteSettings
  readonly period: Period
  readonly wanted: readonly { readonly person: string; readonly way: string; readonly key: string }[]
}

/**
 * The reports due at `now`: asked again at every round; `known` says which messages there have been. None before
 * 08:00, or when the period has been over for more than three days.
 */
export function dueReports(site: SiteSettings, now: Ms, known: (key: string) => boolean): readonly DueReport[] {
  const { monthly, weekly } = site.tell.report
  if ((monthly.length === 0 && weekly.length === 0) || localMinute(now, site.timezone) < AT_MINUTE) return []
  const month = monthly.length === 0 ? null : monthOf(monthOver(now, site.timezone), site.timezone)
  const week = weekly.length === 0 ? null : weekOver(now, site.timezone)
  return [
    ...(month === null ? [] : [{ period: month, people: monthly }]),
    ...(week === null ? [] : [{ period: week, people: weekly }]),
  ].flatMap(({ period, people }) => {
    if (now - period.to > LATE_MS) return []
    const wanted = site.tell.people
      .filter(({ name }) => people.includes(name))
      .flatMap(({ name, ways }) => ways.map((way) => ({ person: name, way, key: keyOf(site, period, name, way) })))
      .filter(({ key }) => !known(key))
    return wanted.length === 0 ? [] : [{ site, period, wanted }]
  })
}

/** The messages of one report. `sizing`: what panel and battery ought to be; null: not known. */
export function reportMessages(store: Store, due: DueReport, now: Ms, sizing: SizingBody | null): readonly Message[] {
  const { site, period, wanted } = due
  const report = readReport(store, site, period, now)
  const form = reportForm(report, sizing)
  const sentence = topSentence(report)
  const text = toText(form)
  const html = toHtml(form)
  const what = `${period.name}: ${sentence}`
  const short = shortForm({ place: placeName(site), what, more: [], action: null, link: null })
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
