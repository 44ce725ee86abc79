/**
 * Rounds that go out by themselves: what nobody acknowledged told again and to the second person, and the monthly
 * test of each way, and the month and the week on one page.
 */
import { HOUR, MINUTE, type Ms } from '../model/time.js'
import type { Store } from '../record/store.js'
import type { Log } from '../runtime/log.js'
import type { LinkMaker } from '../tell/compose.js'
import { escalations } from '../tell/escalate.js'
import { reminders } from '../tell/remind.js'
import { selfTests } from '../tell/tell-test.js'
import type { Line } from './line.js'
import { reportMail } from './report-mail.js'

export type RoundsOptions = {
  readonly line: Line
  readonly store: Store
  readonly link: LinkMaker
  readonly log: Log
}

export type Rounds = { run(now: Ms): void }

export function createRounds({ line, store, link, log }: RoundsOptions): Rounds {
  let escalatedAt = 0
  let testedAt = 0
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
  const report = (now: Ms): void => {
    for (const { site } of line.sites) {
      for (const message of reportMail(store, site, now, (key) => store.outbox.has(site.id, key)))
        store.outbox.add(message)
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
