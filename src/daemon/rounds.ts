/**
 * Rounds that go out by themselves: what nobody acknowledged told again and to the second person, and the monthly
 * test of each way, and the month and the week on one page.
 */
import type { SiteSettings } from '../model/settings.js'
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Log } from '../runtime/log.js'
import type { SizingBody } from '../show/bodies/sizing.js'
import type { LinkMaker } from '../tell/compose.js'
import { escalations } from '../tell/escalate.js'
import { reminders } from '../tell/remind.js'
import { selfTests } from '../tell/tell-test.js'
import type { Line } from './line.js'
import { type DueReport, dueReports, reportMessages } from './report-mail.js'

export type RoundsOptions = {
  readonly line: Line
  readonly store: Store
  readonly link: LinkMaker
  readonly log: Log
  /** What panel and battery a place needs; null where nothing can be said. */
  readonly sizing: (site: SiteSettings) => Promise<SizingBody | null>
}

export type Rounds = { run(now: Ms): void }

export function createRounds({ line, store, link, log, sizing }: RoundsOptions): Rounds {
  let escalatedAt = 0
  let testedAt = 0
  let reporting = false
  const escalate = (now: Ms): void => {
    for (const { site, judge, judgeState } of line.sites) {
      const active = judge.active(judgeState)
      const options = { link, alreadyTold: (key: string) => store.outbox.has(site.id, key) }
      const due = [...escalations(active, site, now, options), ...reminders(active, site, now, options)]
      for (const message of due) store.outbox.add(message)
    }
  }
  const test = (now: Ms): void => {
    for (const { site } of line.sites) {
      if (site.tell.selfTest === 'never') continue
      for (const message of selfTests(site, now)) store.outbox.add(message)
    }
  }
  const known = (site: string) => (key: string) => store.outbox.has(site, key)
  /** Sizes are worked out in the background; the report goes out with them, or without when that fails. */
  const report = (now: Ms): void => {
    if (reporting) return
    const due = line.sites.flatMap(({ site }) => dueReports(site, now, known(site.id)))
    if (due.length === 0) return
    reporting = true
    send(due, now)
      .catch((error: unknown) => log.warn({ error: String(error) }, 'a report could not be written; tried again'))
      .finally(() => {
        reporting = false
      })
  }
  const send = async (due: readonly DueReport[], now: Ms): Promise<void> => {
    for (const one of due) {
      const sizes = await sizing(one.site).catch(() => null)
      for (const message of reportMessages(store, one, now, sizes)) store.outbox.add(message)
    }
  }
  return {
    run(now) {
      try {
        if (now - escalatedAt >= MINUTE) {
          escalatedAt = now
          escalate(now)
        }
        if (now - testedAt >= HOUR) {
          testedAt = now
          test(now)
          report(now)
        }
      } catch (error) {
        log.warn({ error: String(error) }, 'a round could not be written; tried again')
      }
    },
  }
}
