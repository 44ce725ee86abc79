/** The parts of the page about fills and spans that need no browser. */
import { describe, expect, it } from 'vitest'
import { DAY, HOUR, MINUTE } from '../../src/model/time.js'
import { cycleBody } from '../../src/show/bodies/history.js'
import type { SeriesBody, SeriesRow } from '../../src/show/bodies/series.js'
import { spanCsv } from '../../src/show/page/chart-csv.js'
import { daily, nearestRow, rowWords, sureOf } from '../../src/show/page/chart-data.js'
import { besideOf, courseOf, valueAt } from '../../src/show/page/fill-course.js'
import { dotsOf, rangeOf } from '../../src/show/page/fill-trend.js'
import { marksOf } from '../../src/show/page/marks.js'
import { axisWords, daySpan, lastSpan, moved, pointsFor } from '../../src/show/page/span.js'
import { duration, type People } from '../../src/show/page/people.js'
import { cycles, NOW } from './fake-site.js'

const ZONE = 'America/Denver'
const FILLS = cycles(8).map(cycleBody)

function row(t0: number, ms: number, mean: number | null): SeriesRow {
  const n = mean === null ? 0 : 4
  const [min, max] = mean === null ? [null, null] : [mean - 0.01, mean + 0.01]
  return { t0: new Date(t0).toISOString(), t1: new Date(t0 + ms).toISOString(), min, max, mean, n }
}

function body(rows: SeriesRow[]): SeriesBody {
  const ends = { from: rows[0]?.t0 ?? '', to: rows.at(-1)?.t1 ?? '' }
  return {
    site: 'juniper',
    role: 'tank-level',
    unit: 'm',
    ...ends,
    expect_every_s: 30,
    sd: 0.003,
    gain_sd: 0.005,
    rows,
  }
}

describe('a span', () => {
  it('goes on with now, moves by half its length, and never past now', () => {
    const day = lastSpan(DAY, NOW)
    const earlier = moved(day, -1, NOW)
    expect(earlier).toEqual({ from: NOW - 1.5 * DAY, to: NOW - DAY / 2, live: false })
    expect(moved(earlier, 1, NOW)).toEqual(day)
    expect(moved(moved(earlier, 1, NOW), 1, NOW)).toEqual(day)
  })

  it('of days begins and ends at midnight there, also where the clocks change (8 Mar 2026 has 23 hours)', () => {
    const span = daySpan('2026-03-08', '2026-03-08', ZONE, Date.UTC(2026, 5, 1))
    expect(new Date(span?.from ?? 0).toISOString()).toBe('2026-03-08T07:00:00.000Z')
    expect((span?.to ?? 0) - (span?.from ?? 0)).toBe(23 * HOUR)
    expect(daySpan('2026-03-09', '2026-03-08', ZONE, NOW)).toBeNull()
    expect(daySpan('', '2026-03-08', ZONE, NOW)).toBeNull()
    expect(daySpan('2020-01-01', '2026-01-01', ZONE, NOW)).toBeNull()
    expect(daySpan('2026-02-03', '2026-02-03', ZONE, NOW)?.to).toBe(NOW)
  })

  it('of years asks for a point a day at most', () => {
    expect(pointsFor(DAY, 400)).toBe(400)
    expect(pointsFor(365 * DAY, 400)).toBe(365)
    expect(pointsFor(1461 * DAY, 400)).toBe(400)
  })

  it('names hours, days and months along its axis', () => {
    expect([HOUR, DAY, 30 * DAY].map((step) => axisWords(NOW, step, ZONE))).toEqual(['14:05', '3 Feb', 'Feb 2026'])
  })
})

describe('a curve', () => {
  const rows = [row(NOW, MINUTE, 1), row(NOW + MINUTE, MINUTE, null), row(NOW + 2 * MINUTE, MINUTE, 1.2)]

  it('is read at the nearest row; a silence is said', () => {
    expect(nearestRow(rows, NOW + 10_000)).toBe(0)
    expect(nearestRow(rows, NOW + MINUTE)).toBe(1)
    expect(nearestRow(rows, NOW + HOUR)).toBe(2)
    expect(nearestRow([], NOW)).toBe(-1)
    const [first, second] = rows
    if (first === undefined || second === undefined) throw new Error('no rows')
    // 2 · √(3² + 5²) mm = 11.7 mm (GUM, JCGM 100:2008, 5.1.2).
    expect(sureOf(body(rows), 1)).toBeCloseTo(0.01166, 5)
    expect(rowWords(first, body(rows), 'level', 'si')).toBe('100.0\u00a0cm ± 1.2 (99.0 to 101.0\u00a0cm)')
    expect(rowWords(second, body(rows), 'level', 'si')).toBe('not known, nothing was heard')
    // A difference in degrees Fahrenheit has no 32 in it.
    const warm = { ...body([row(NOW, MINUTE, 10)]), sd: 0.5, gain_sd: 0 }
    expect(rowWords(row(NOW, MINUTE, 10), warm, 'temperature', 'us')).toContain('50\u00a0°F ± 1.8')
  })

  it('becomes a table of the site’s own days', () => {
    const days = daily([row(NOW - DAY, DAY, 1), row(NOW, HOUR, 2)], 'level', 'si', ZONE)
    expect(days.map(([day]) => day)).toEqual(['2026-02-03', '2026-02-02'])
    expect(days[0]?.[3]).toBe('201.0\u00a0cm')
  })

  it('becomes CSV with empty fields where nothing was heard (RFC 4180)', () => {
    const lines = spanCsv([body(rows)], ZONE).split('\r\n')
    expect(lines).toHaveLength(5)
    expect(lines[1]).toBe(
      '2026-02-03T21:05:00.000Z,2026-02-03T21:06:00.000Z,3 Feb 2026 14:05,tank-level,0.99,1,1.01,4,m',
    )
    expect(lines[2]).toBe('2026-02-03T21:06:00.000Z,2026-02-03T21:07:00.000Z,3 Feb 2026 14:06,tank-level,,,,0,m')
  })
})

describe('fills', () => {
  it('are drawn where the figure is known, and one far off does not squeeze the others', () => {
    const dots = dotsOf(FILLS, (one) => one.flow_l_min)
    expect(dots.length).toBe(FILLS.filter((one) => one.flow_l_min !== null).length)
    const odd = [...dots, { at: NOW, value: 1_000, complete: false }]
    expect(rangeOf(odd, null)).toEqual(rangeOf(dots, null))
    const [low, high] = rangeOf(dots, { value: 4, sd: 1 })
    expect(low).toBeLessThan(1)
    expect(high).toBeGreaterThan(7)
  })

  it('are compared with the complete ones before them, the nearest first', () => {
    const last = FILLS.at(-1)
    if (last === undefined) throw new Error('no fill')
    const beside = besideOf(FILLS, last)
    expect(beside).toHaveLength(4)
    expect(beside.every((one) => one.complete && one.start < last.start)).toBe(true)
    expect((beside[0]?.start ?? '') > (beside[1]?.start ?? '')).toBe(true)
    expect(besideOf(FILLS, FILLS[0] ?? last)).toEqual([])
  })

  it('have a course by the minute since their start, the level as its rise', () => {
    const rows = [-1, 0, 1, 2].map((minute) => row(NOW + minute * MINUTE, MINUTE, 0.9 + minute * 0.01))
    const rise = courseOf(rows, NOW, true)
    expect(valueAt(rise, -0.5)).toBeCloseTo(0, 9)
    expect(valueAt(rise, 2.5)).toBeCloseTo(0.03, 9)
    expect(valueAt(rise, 20)).toBeNull()
    expect(valueAt(courseOf(rows, NOW, false), 0.5)).toBeCloseTo(0.9, 9)
  })

  it('stand with alarms and log entries in the order of time', () => {
    const people = { sure: () => '94 gal ± 3', when: () => '', say: () => '', ago: () => '' } satisfies People
    const entry = { id: 1, at: FILLS[3]?.end ?? '', by: 'ops', text: 'New valve', new_baseline: true, upkeep: null }
    const marks = marksOf(FILLS, [], [entry], people)
    expect(marks.map(({ from }) => from)).toEqual(marks.map(({ from }) => from).toSorted((a, b) => a - b))
    expect(marks.find(({ kind }) => kind === 'entry')?.words).toBe('New valve (learning anew from here)')
    expect(marks[0]?.words).toBe(`${duration(FILLS[0]?.duration_s ?? 0)}, 94 gal ± 3`)
  })
})
