import { describe, expect, it } from 'vitest'
import type { Alarm } from '../../src/model/alarm.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { reminders } from '../../src/tell/remind.js'
import { alarm, siteSettings, tellSettings } from './support.js'

const site = siteSettings({
  tell: tellSettings({
    people: [
      { name: 'ops', ways: ['mail-1'], quiet: [22 * 60, 7 * 60], least: 'low' },
      { name: 'neighbour', ways: ['hook-1'], quiet: null, least: 'critical' },
    ],
    repeat: { afterS: 3_600, everyS: 86_400, most: 3 },
  }),
})
const { raised } = alarm()

/** Asked each minute of so long, as the daemon does; who was reminded, and when after the raise, in hours. */
function rounds(changes: Partial<Alarm>, lastsMs: number): string[] {
  const keys = new Set<string>()
  const said: string[] = []
  const active = [alarm({ priority: 'critical', ...changes })]
  for (let now = raised; now <= raised + lastsMs; now += MINUTE) {
    const due = reminders(active, site, now, { link: () => null, alreadyTold: (key) => keys.has(key) })
    for (const { key, person } of due) {
      keys.add(key)
      said.push(`${person} ${((now - raised) / HOUR).toFixed(1)}`)
    }
  }
  return said
}

describe('an alarm that nobody has answered', () => {
  it('is told again after an hour when it is critical, then daily, to those it concerns, and not for ever', () => {
    expect(rounds({}, 6 * DAY)).toEqual([
      'ops 1.0',
      'neighbour 1.0',
      'ops 25.0',
      'neighbour 25.0',
      'ops 49.0',
      'neighbour 49.0',
    ])
  })

  it('is told again once a day when it is of high priority', () => {
    expect(rounds({ priority: 'high' }, 3 * DAY)).toEqual(['ops 24.0', 'ops 48.0', 'ops 72.0'])
  })

  it.each<[string, Partial<Alarm>]>([
    ['acknowledged', { state: 'acknowledged', acknowledgedAt: raised + MINUTE, acknowledgedBy: 'ops' }],
    ['over', { state: 'returned-unacknowledged', cleared: raised + MINUTE }],
    ['shelved', { state: 'shelved' }],
    ['explained by another', { explainedBy: 'battery-low:' }],
    ['of medium priority', { priority: 'medium' }],
  ])('is not told again when it is %s', (_, changes) => {
    expect(rounds(changes, 2 * DAY)).toEqual([])
  })

  it('that is not critical wakes nobody', () => {
    const night = Date.UTC(2026, 1, 4, 9) // 02:00
    const options = { link: () => null, alreadyTold: () => false }
    const high = alarm({ priority: 'high', raised: night - DAY })
    expect(reminders([high], site, night, options)).toEqual([])
    expect(reminders([high], site, night + 5 * HOUR, options)).toHaveLength(1)
  })

  it('says since when, and after a long stop only the latest reminder is made up for', () => {
    const options = { link: () => null, alreadyTold: () => false }
    const due = reminders([alarm({ priority: 'critical' })], site, raised + 30 * DAY, options)
    expect(due.map(({ person }) => person)).toEqual(['ops', 'neighbour'])
    expect(due[0]?.subject).toMatch(/^Still: /)
    expect(due[0]?.text).toContain('nobody has acknowledged it')
  })
})
