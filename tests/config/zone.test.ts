/** Local dates as instants, over the nights when the clocks change. */
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { absence, localToMs, readLocalDate } from '../../src/config/zone.js'

const iso = (timezone: string, text: string): string => {
  const read = readLocalDate(text)
  if (read === null) throw new Error(text)
  return new Date(localToMs(timezone, read.localMs)).toISOString()
}

describe('a local time', () => {
  // Changes of the clocks: IANA time zone database, America/New_York 2026-03-08 and 2026-11-01, 02:00.
  it.each([
    ['America/New_York', '2026-01-15 12:00', '2026-01-15T17:00:00.000Z'],
    ['America/New_York', '2026-07-15 12:00', '2026-07-15T16:00:00.000Z'],
    ['America/New_York', '2026-03-08', '2026-03-08T05:00:00.000Z'],
    ['America/New_York', '2026-03-08 03:00', '2026-03-08T07:00:00.000Z'],
    ['America/New_York', '2026-03-09', '2026-03-09T04:00:00.000Z'],
    ['America/New_York', '2026-11-01', '2026-11-01T04:00:00.000Z'],
    ['America/New_York', '2026-11-01 03:00', '2026-11-01T08:00:00.000Z'],
    ['Asia/Kolkata', '2026-07-15 12:00', '2026-07-15T06:30:00.000Z'],
    ['Australia/Lord_Howe', '2026-01-15 12:00', '2026-01-15T01:00:00.000Z'],
    ['UTC', '2026-02-28 23:59', '2026-02-28T23:59:00.000Z'],
  ])('in %s, %s is %s', (timezone, text, expected) => {
    expect(iso(timezone, text)).toBe(expected)
  })

  it('that the clocks skip counts as if they had not been put on yet', () => {
    expect(iso('America/New_York', '2026-03-08 02:30')).toBe('2026-03-08T07:30:00.000Z')
  })

  it('that the clocks show twice is the first', () => {
    expect(iso('America/New_York', '2026-11-01 01:30')).toBe('2026-11-01T05:30:00.000Z')
  })

  it('reads the same on the wall of the zone as it was written', () => {
    const zone = fc.constantFrom('America/Los_Angeles', 'America/New_York', 'Europe/Berlin', 'Australia/Sydney', 'UTC')
    // Noon: no zone changes its clocks then.
    const day = fc.integer({ min: 0, max: 36_500 }).map((days) => days * 86_400_000 + 43_200_000)
    fc.assert(
      fc.property(zone, day, (timezone, localMs) => {
        const at = localToMs(timezone, localMs)
        const wall = new Date(at).toLocaleString('sv-SE', { timeZone: timezone })
        expect(wall).toBe(new Date(localMs).toISOString().slice(0, 19).replace('T', ' '))
      }),
    )
  })
})

describe('a date', () => {
  it.each([
    '2026-02-29',
    '2026-13-01',
    '2026-00-10',
    '2026-04-31',
    '2026-01-01 24:00',
    '2026-01-01 12:60',
    '01.02.2026',
    '',
  ])('%j does not exist', (text) => {
    expect(readLocalDate(text)).toBeNull()
  })

  it('makes an absence of whole days, 23 and 25 hours long where the clocks change', () => {
    const hours = (from: string, to: string): number => {
      const span = absence('America/New_York', from, to)
      return span === null ? Number.NaN : (span[1] - span[0]) / 3_600_000
    }
    expect(hours('2026-07-01', '2026-07-01')).toBe(24)
    expect(hours('2026-03-08', '2026-03-08')).toBe(23)
    expect(hours('2026-11-01', '2026-11-01')).toBe(25)
    expect(hours('2026-07-01 08:00', '2026-07-01 20:00')).toBe(12)
  })
})
