import { describe, expect, it } from 'vitest'
import {
  formatAboutHours,
  formatDuration,
  formatLocalClock,
  formatLocalDateTime,
  formatLocalTime,
  formatNumber,
  formatQuantity,
  toPeople,
} from '../../src/model/format.js'

describe('quantities for people', () => {
  it('converts by the definitions of NIST SP 811, App. B', () => {
    expect(toPeople('volume', 3.785411784, 'us')).toEqual({ value: 1, unit: 'gal' })
    expect(toPeople('length', 0.3048, 'us')).toEqual({ value: 1, unit: 'ft' })
    expect(toPeople('level', 0.0254, 'us')).toEqual({ value: 1, unit: 'in' })
    expect(toPeople('temperature', 100, 'us').value).toBeCloseTo(212, 12)
    expect(toPeople('temperature', -40, 'us').value).toBeCloseTo(-40, 12)
  })

  it.each([
    ['current', 4.513, 'us', '4.51 A'],
    ['volume', 1234.4, 'si', '1,234 l'],
    ['volume', 1234.4, 'us', '326 gal'],
    ['level', 1.236, 'si', '123.6 cm'],
    ['temperature', -0.01, 'si', '0.0 °C'],
    ['temperature', -4.2, 'us', '24 °F'],
    ['ratio', 0.62, 'us', '62 %'],
    ['count', 3, 'us', '3'],
    ['duration', 3840, 'us', '1 h 4 min'],
    ['energy-per-volume', 0.5, 'us', '1.9 Wh/gal'],
  ] as const)('writes %s %d (%s) as %s', (kind, value, units, text) => {
    expect(formatQuantity(kind, value, units)).toBe(text)
  })

  it('calls what is not known unknown, never 0', () => {
    expect(formatQuantity('volume', null, 'us')).toBe('unknown')
    expect(formatQuantity('duration', Number.NaN, 'si')).toBe('unknown')
    expect(formatDuration(null)).toBe('unknown')
    expect(formatAboutHours(null)).toBe('unknown')
    expect(formatLocalTime(null, 'UTC')).toBe('unknown')
  })

  it('sets thousands apart before the point only', () => {
    expect(formatNumber(1234567.12345, 5)).toBe('1,234,567.12345')
    expect(formatNumber(-0.04, 1)).toBe('0.0')
  })
})

describe('spans and times for people', () => {
  it.each([
    [0, '0 s'],
    [119_000, '119 s'],
    [120_000, '2 min'],
    [3_600_000, '1 h'],
    [7_500_000, '2 h 5 min'],
    [86_399_000, '1 d'],
    [273_600_000, '3 d 4 h'],
  ])('writes %d ms as %s', (span, text) => {
    expect(formatDuration(span)).toBe(text)
  })

  it('gives hours only as finely as they are known', () => {
    expect(formatAboutHours(0.4)).toBe('less than 1 h')
    expect(formatAboutHours(5.4)).toBe('about 5 h')
    expect(formatAboutHours(70)).toBe('about 3 d')
  })

  it('uses the site time zone on both sides of a clock change', () => {
    // IANA: America/Denver is UTC-7, and UTC-6 from 2026-03-08 09:00 UTC.
    expect(formatLocalTime(Date.UTC(2026, 2, 8, 8, 59), 'America/Denver')).toBe('Sun 8 Mar 01:59')
    expect(formatLocalTime(Date.UTC(2026, 2, 8, 9, 0), 'America/Denver')).toBe('Sun 8 Mar 03:00')
    expect(formatLocalClock(Date.UTC(2026, 0, 1, 7, 0), 'America/Denver')).toBe('00:00')
    expect(formatLocalDateTime(Date.UTC(2026, 0, 1, 6, 59), 'America/Denver')).toBe('31 Dec 2025 23:59')
  })
})
