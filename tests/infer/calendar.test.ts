/**
 * Expected days are from the rules of the zones as the IANA time zone database (2025) has them, worked by hand: United
 * States, second Sunday of March and first of November; Lord Howe Island, half an hour, first Sunday of October and of
 * April; Nepal, UTC+05:45 all year.
 */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { createCalendar } from '../../src/infer/calendar.js'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'

describe('local days', () => {
  it.each([
    ['America/New_York', '2026-03-08', '2026-03-08T05:00Z', 23],
    ['America/New_York', '2026-11-01', '2026-11-01T04:00Z', 25],
    ['America/New_York', '2026-07-04', '2026-07-04T04:00Z', 24],
    ['Australia/Lord_Howe', '2026-10-04', '2026-10-03T13:30Z', 23.5],
    ['Australia/Lord_Howe', '2026-04-05', '2026-04-04T13:00Z', 24.5],
    ['Asia/Kathmandu', '2026-01-01', '2025-12-31T18:15Z', 24],
    ['Etc/UTC', '2026-02-28', '2026-02-28T00:00Z', 24],
  ])('in %s, %s begins at %s and has %d hours', (zone, date, start, hours) => {
    const begin = Date.parse(start)
    for (const t of [begin, begin + 1, begin + 90 * MINUTE, begin + hours * HOUR - 1]) {
      expect(createCalendar(zone).dayOf(t)).toEqual({ date, start: begin, end: begin + hours * HOUR })
    }
    expect(createCalendar(zone).dayOf(begin - 1).end).toBe(begin)
    expect(createCalendar(zone).dayOf(begin + hours * HOUR).start).toBe(begin + hours * HOUR)
  })

  it('hold their instant, abut, and are the same however one asks', () => {
    const zone = fc.constantFrom(
      'America/New_York',
      'Australia/Lord_Howe',
      'Asia/Kathmandu',
      'America/St_Johns',
      'Etc/UTC',
    )
    const instant = fc.integer({ min: Date.UTC(2010, 0), max: Date.UTC(2040, 0) })
    fc.assert(
      fc.property(zone, fc.array(instant, { minLength: 1, maxLength: 5 }), (name, instants) => {
        const calendar = createCalendar(name)
        for (const t of instants) {
          const day = calendar.dayOf(t)
          expect(day.start).toBeLessThanOrEqual(t)
          expect(day.end).toBeGreaterThan(t)
          expect(day.end - day.start).toBeGreaterThanOrEqual(DAY - HOUR)
          expect(day.end - day.start).toBeLessThanOrEqual(DAY + HOUR)
          expect(createCalendar(name).dayOf(day.end - 1)).toEqual(day)
          expect(createCalendar(name).dayOf(day.end).start).toBe(day.end)
        }
      }),
      { numRuns: 60 },
    )
  })
})
