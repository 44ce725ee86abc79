import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import type { Priority } from '../../src/model/alarm.js'
import type { MessageKind } from '../../src/model/message.js'
import type { PersonSettings } from '../../src/model/settings.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { dueAt, inQuiet, wasHeld } from '../../src/tell/hold.js'
import { localMinute, nextDaily, nextLocalMinute, zoneWords } from '../../src/tell/local-time.js'
import { OPS, siteSettings, tellSettings } from './support.js'

// Clock changes as the IANA time zone database has them for America/New_York: 2026-03-08 02:00 EST becomes 03:00 EDT
// (07:00 UTC), 2026-11-01 02:00 EDT becomes 01:00 EST (06:00 UTC).
const NEW_YORK = 'America/New_York'
const utc = (text: string) => Date.parse(`${text}Z`)

function due(person: PersonSettings, now: number, priority: Priority, kind: MessageKind = 'alarm'): number {
  const site = siteSettings({ timezone: NEW_YORK, tell: tellSettings({ people: [person] }) })
  return dueAt(person, site, { priority, kind, now })
}

describe('quiet hours', () => {
  const NIGHT = utc('2026-01-15T07:00') // 02:00 EST

  it('hold all but critical alarms until they end', () => {
    expect(due(OPS, NIGHT, 'critical')).toBe(NIGHT)
    for (const priority of ['high', 'medium', 'low'] as const) {
      expect(due(OPS, NIGHT, priority)).toBe(utc('2026-01-15T12:00'))
    }
  })

  it('hold every all-clear, of critical alarms too', () => {
    expect(due(OPS, NIGHT, 'critical', 'all-clear')).toBe(utc('2026-01-15T12:00'))
  })

  it('begin with their first minute and end before their last', () => {
    const at = (text: string) => inQuiet(utc(text), OPS.quiet, NEW_YORK)
    expect(at('2026-01-16T02:59:59')).toBe(false)
    expect(at('2026-01-16T03:00:00')).toBe(true)
    expect(at('2026-01-16T11:59:59')).toBe(true)
    expect(at('2026-01-16T12:00:00')).toBe(false)
  })

  it('hold nothing where none are set or both ends are the same', () => {
    expect(due({ ...OPS, quiet: null }, NIGHT, 'high')).toBe(NIGHT)
    expect(due({ ...OPS, quiet: [120, 120] }, NIGHT, 'high')).toBe(NIGHT)
  })

  it('end at 07:00 by the wall clock in the night that loses an hour', () => {
    // 01:30 EST; 07:00 EDT is 11:00 UTC, four and a half hours later.
    expect(due(OPS, utc('2026-03-08T06:30'), 'high')).toBe(utc('2026-03-08T11:00'))
  })

  it('end at 07:00 by the wall clock in the night that has an hour twice', () => {
    // 23:30 EDT on 31 October; 07:00 EST is 12:00 UTC.
    expect(due(OPS, utc('2026-11-01T03:30'), 'high')).toBe(utc('2026-11-01T12:00'))
    // The second 01:30 of that night is as quiet as the first.
    expect(due(OPS, utc('2026-11-01T06:30'), 'high')).toBe(utc('2026-11-01T12:00'))
  })

  it('that end inside the lost hour end with it', () => {
    const person = { ...OPS, quiet: [22 * 60, 150] as const }
    expect(due(person, utc('2026-03-08T05:00'), 'high')).toBe(utc('2026-03-08T07:00'))
  })

  it('that end inside the doubled hour end at its first pass, and a message in the second pass waits for the second', () => {
    const person = { ...OPS, quiet: [60, 90] as const }
    expect(due(person, utc('2026-11-01T05:10'), 'high')).toBe(utc('2026-11-01T05:30'))
    expect(due(person, utc('2026-11-01T06:10'), 'high')).toBe(utc('2026-11-01T06:30'))
  })
})

describe('the morning digest', () => {
  const digest = { atMinute: 450, to: ['ops'] }
  const site = siteSettings({ timezone: NEW_YORK, tell: tellSettings({ digest }) })
  const low = (now: number) => dueAt(OPS, site, { priority: 'low', kind: 'alarm', now })

  it('takes what is of low priority, by day too, and leaves the rest alone', () => {
    expect(low(utc('2026-01-15T18:00'))).toBe(utc('2026-01-16T12:30'))
    const now = utc('2026-01-15T18:00')
    expect(dueAt(OPS, site, { priority: 'medium', kind: 'alarm', now })).toBe(now)
  })

  it('is not for people who did not ask for one', () => {
    const now = utc('2026-01-15T18:00')
    expect(dueAt({ ...OPS, name: 'neighbour' }, site, { priority: 'low', kind: 'alarm', now })).toBe(now)
  })

  it('comes once a local day across both clock changes', () => {
    for (const [start, days] of [
      [utc('2026-03-06T12:00'), 5],
      [utc('2026-10-30T12:00'), 5],
    ] as const) {
      let at = start
      const seen: string[] = []
      for (let day = 0; day < days; day += 1) {
        at = nextDaily(at, 90, NEW_YORK) // 01:30, which 1 November has twice
        seen.push(new Date(at).toISOString().slice(0, 10))
        expect(localMinute(at, NEW_YORK)).toBe(90)
      }
      expect(new Set(seen).size).toBe(days)
    }
  })
})

describe('local times', () => {
  it('come back right for any minute of any night, with no wait longer than 25 hours', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: utc('2026-01-01T00:00'), max: utc('2027-12-31T00:00') }),
        fc.integer({ min: 0, max: 1_439 }),
        fc.constantFrom(NEW_YORK, 'America/Denver', 'Europe/Paris', 'Australia/Lord_Howe', 'Asia/Kathmandu', 'UTC'),
        (at, minute, zone) => {
          const next = nextLocalMinute(at, minute, zone)
          expect(next).toBeGreaterThan(at)
          expect(next - at).toBeLessThanOrEqual(25 * HOUR)
          const shown = localMinute(next, zone)
          const jumped = localMinute(next - MINUTE, zone) < minute && shown > minute
          expect(shown === minute || jumped).toBe(true)
        },
      ),
      { numRuns: 300 },
    )
  })

  it('name their zone', () => {
    expect(zoneWords(utc('2026-01-15T12:00'), 'America/Denver')).toBe('America/Denver (MST)')
    expect(zoneWords(utc('2026-07-15T12:00'), 'America/Denver')).toBe('America/Denver (MDT)')
    expect(zoneWords(utc('2026-07-15T12:00'), 'UTC')).toBe('UTC')
  })
})

describe('a held row', () => {
  it('is known by its due time, and a row that went at once is not', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 370 * DAY }), (span) => {
        const site = siteSettings({ timezone: NEW_YORK, tell: tellSettings({ people: [OPS] }) })
        const now = utc('2026-01-01T00:00') + span
        const at = dueAt(OPS, site, { priority: 'high', kind: 'alarm', now })
        // An instant that falls exactly on the end of quiet hours cannot be told from one that was held to it.
        if (at === now && now % MINUTE === 0) return
        expect(wasHeld({ person: 'ops', due: at }, site)).toBe(at !== now)
      }),
      { numRuns: 300 },
    )
  })
})
