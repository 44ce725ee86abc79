import { describe, expect, it } from 'vitest'
import { dueReports, reportMessages } from '../../src/daemon/report-mail.js'
import { DAY, HOUR, type Ms } from '../../src/model/time.js'
import { openStore } from '../../src/record/store.js'
import { siteSettings, tellSettings } from '../tell/support.js'

const site = {
  ...siteSettings({
    tell: tellSettings({
      people: [
        { name: 'ops', ways: ['mail-1', 'hook-1'], quiet: null, least: 'medium' },
        { name: 'neighbour', ways: ['mail-1'], quiet: null, least: 'critical' },
      ],
      report: { monthly: ['ops'], weekly: ['neighbour'] },
    }),
  }),
  timezone: 'America/Denver',
}

/** Asked each hour from `from` on, as the daemon does; who got what, and when by the wall clock of the place. */
function asked(from: Ms, hours: number, offAt: (at: Ms) => boolean = () => false): string[] {
  const store = openStore({ file: ':memory:', now: from })
  const keys = new Set<string>()
  const said: string[] = []
  for (let now = from; now < from + hours * HOUR; now += HOUR) {
    if (offAt(now)) continue
    const due = dueReports(site, now, (one) => keys.has(one))
    for (const { key, person, way, subject } of due.flatMap((one) => reportMessages(store, one, now, null))) {
      keys.add(key)
      const local = new Date(now - 7 * HOUR).toISOString().slice(0, 13)
      said.push(`${local} ${person} ${way} ${subject}`)
    }
  }
  store.close()
  return said
}

describe('the report by mail', () => {
  it('goes out once, at eight in the morning of the first day after, to each who asked and by each of their ways', () => {
    // 2026-02-01 is a Sunday, 2026-02-02 a Monday; Denver is UTC−7 then.
    expect(asked(Date.UTC(2026, 0, 31, 7), 24 * 4)).toEqual([
      '2026-02-01T08 ops mail-1 Juniper Bench: January 2026',
      '2026-02-01T08 ops hook-1 Juniper Bench: January 2026',
      '2026-02-02T08 neighbour mail-1 Juniper Bench: 26 Jan 2026 to 1 Feb 2026',
    ])
  })

  it('is made up for when the daemon was off on the day, but not for ever', () => {
    const first = Date.UTC(2026, 1, 1, 7)
    const late = asked(first, 24 * 4, (at) => at < first + 2 * DAY)
    expect(late.filter((line) => line.includes('January'))).toHaveLength(2)
    const never = asked(first, 24 * 6, (at) => at < first + 4 * DAY)
    expect(never.filter((line) => line.includes('January'))).toEqual([])
  })

  it('is a message of its own kind, never urgent, with a short form', () => {
    const store = openStore({ file: ':memory:', now: 0 })
    const now = Date.UTC(2026, 1, 1, 16)
    const [due] = dueReports(site, now, () => false)
    const [message] = due === undefined ? [] : reportMessages(store, due, now, null)
    expect(message).toMatchObject({ kind: 'report', priority: 'low', about: '' })
    expect(message?.text).toContain('Nothing was heard from the place in this month.')
    expect(message?.short.length).toBeLessThanOrEqual(160)
    expect(message?.html).toContain('<!doctype html>')
    store.close()
  })
})
