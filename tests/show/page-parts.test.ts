/** The parts of the page that need no browser. */
import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { takesGzip } from '../../src/show/compress.js'
import type { NowBody } from '../../src/show/bodies/now.js'
import { rowsWithGaps } from '../../src/show/bodies/series.js'
import { columns, hourly } from '../../src/show/page/chart-data.js'
import { noteOf } from '../../src/show/page/push-note.js'
import { marksOf, spread, surfaceOf, tankFrame } from '../../src/show/page/section-geometry.js'
import { levelAt, tankFigures } from '../../src/show/tank-figures.js'
import { isUnseen } from '../../src/show/page/wrong.js'
import { volumeAt } from '../../src/infer/tank.js'
import { moved, TRANSITIONS } from '../../src/judge/machine.js'
import type { AlarmState } from '../../src/model/alarm.js'
import type { TankShape } from '../../src/model/settings.js'
import { NOW } from './fake-site.js'

type Tank = NonNullable<NowBody['tank']>
const TANK: Tank = {
  outline: 'upright-cylinder',
  width_m: 1.2,
  height_m: 1.5,
  low_mark_m: 0.9,
  high_mark_m: 1.2,
  full_m: 1.4,
  reserve_m: 0.3,
  reserve_l: 340,
  capacity_l: 1583,
}
const DRY = { level_m: null, low_wet: null, high_wet: null, full_wet: null } as NonNullable<NowBody['water']>

describe('the section drawing', () => {
  it('draws width and height by one scale, whatever the shape', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.3, max: 8, noNaN: true }),
        fc.double({ min: 0.3, max: 8, noNaN: true }),
        (height, width) => {
          const frame = tankFrame({ ...TANK, height_m: height, full_m: height, width_m: width })
          expect(frame.width / (frame.bottom - frame.top)).toBeCloseTo(width / height, 6)
          expect(frame.width).toBeLessThanOrEqual(150.001)
          expect(frame.bottom - frame.top).toBeLessThanOrEqual(214.001)
          expect(frame.y(height / 2)).toBeCloseTo((frame.top + frame.bottom) / 2, 6)
        },
      ),
    )
  })

  it('keeps labels apart, in order and within the drawing', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 30, max: 250 }), { minLength: 1, maxLength: 5 }), (ys) => {
        const sorted = ys.toSorted((a, b) => a - b)
        const placed = spread(sorted, 256, 16)
        expect(placed).toHaveLength(sorted.length)
        placed.forEach((y, index) => {
          expect(y).toBeLessThanOrEqual(256)
          if (index > 0) expect(y - (placed[index - 1] ?? 0)).toBeGreaterThanOrEqual(16)
        })
      }),
    )
    expect(spread([40, 120, 200], 256, 16)).toEqual([40, 120, 200])
  })

  it('lists the marks from the top down, the reserve only where there is one', () => {
    expect(marksOf(TANK).map((mark) => mark.kind)).toEqual(['full', 'high', 'low', 'reserve'])
    expect(marksOf({ ...TANK, reserve_m: null }).map((mark) => mark.kind)).toEqual(['full', 'high', 'low'])
  })

  it('claims of the water only what sensor or probes tell', () => {
    expect(surfaceOf(TANK, null).kind).toBe('unknown')
    expect(surfaceOf(TANK, DRY).kind).toBe('unknown')
    expect(surfaceOf(TANK, { ...DRY, level_m: 1.1 })).toEqual({ kind: 'measured', levelM: 1.1 })
    expect(surfaceOf(TANK, { ...DRY, low_wet: true, high_wet: false })).toMatchObject({ fromM: 0.9, toM: 1.2 })
    expect(surfaceOf(TANK, { ...DRY, low_wet: false, high_wet: false })).toMatchObject({ fromM: 0, toM: 0.9 })
    expect(surfaceOf(TANK, { ...DRY, low_wet: true, high_wet: true })).toMatchObject({ fromM: 1.2, toM: 1.4 })
    expect(surfaceOf(TANK, { ...DRY, low_wet: false, high_wet: true }).kind).toBe('unknown')
    expect(surfaceOf(TANK, { ...DRY, low_wet: true }).kind).toBe('unknown')
  })
})

describe('the tank’s figures', () => {
  it('find the level of a volume for every shape', () => {
    const shapes: TankShape[] = [
      { kind: 'box', lengthM: 2, widthM: 1, heightM: 1.5 },
      { kind: 'upright-cylinder', diameterM: 1.6, heightM: 2 },
      { kind: 'lying-cylinder', diameterM: 1.2, lengthM: 2 },
      {
        kind: 'table',
        points: [
          [0, 0],
          [0.5, 300],
          [1, 900],
        ],
      },
    ]
    for (const shape of shapes) {
      for (const level of [0.1, 0.45, 0.9]) {
        expect(levelAt(shape, volumeAt(shape, level), 2.5)).toBeCloseTo(level, 3)
      }
    }
    const figures = tankFigures({
      shape: shapes[0] as TankShape,
      lowMarkM: 0.5,
      highMarkM: 1,
      fullM: 1.4,
      reserveL: 500,
    })
    expect(figures).toMatchObject({ heightM: 1.5, widthM: 2, capacityL: 2800 })
    expect(figures.reserveM).toBeCloseTo(0.25, 4)
  })
})

describe('the curves', () => {
  const point = (from: number, mean: number) => ({ from, to: from + MINUTE, n: 2, min: mean - 1, max: mean + 1, mean })

  it('turn a silence into a row of nulls, at both ends too', () => {
    const from = NOW - HOUR
    const rows = rowsWithGaps(
      [point(from + 10 * MINUTE, 5), point(from + 11 * MINUTE, 6), point(from + 30 * MINUTE, 7)],
      from,
      NOW,
      30,
    )
    expect(rows.map((row) => row.n)).toEqual([0, 2, 2, 0, 2, 0])
    expect(rowsWithGaps([], from, NOW, 30).map((row) => row.n)).toEqual([0])
    expect(rowsWithGaps([point(from + MINUTE, 5)], from, from + 3 * MINUTE, 30).map((row) => row.n)).toEqual([2])
  })

  it('keep their gaps as nulls and convert to the site’s units', () => {
    const rows = rowsWithGaps([point(NOW - HOUR, 1), point(NOW - 20 * MINUTE, 2)], NOW - HOUR, NOW - 19 * MINUTE, 30)
    const [times, lowest, , mean] = columns(rows, 'level', 'us')
    expect(times).toHaveLength(3)
    expect(mean).toEqual([1 / 0.0254, null, 2 / 0.0254])
    expect(lowest[1]).toBeNull()
    expect(times.every((time, index) => index === 0 || time > (times[index - 1] ?? 0))).toBe(true)
  })

  it('become a table of hours in which an hour of silence is not known', () => {
    const rows = rowsWithGaps([point(NOW - 4 * HOUR, 3)], NOW - 4 * HOUR, NOW, 30)
    const table = hourly(rows, 'voltage', 'si', 'America/Denver')
    expect(table[0]).toEqual(['Tue 3 Feb 14:00', 'not known', 'not known', 'not known'])
    expect(table.at(-1)).toEqual(['Tue 3 Feb 10:00', '2.00\u00a0V', '3.00\u00a0V', '4.00\u00a0V'])
  })
})

describe('compression', () => {
  it('is used when it is asked for (RFC 9110, 12.5.3)', () => {
    expect(['gzip', 'br, gzip;q=0.8', '*', 'GZIP'].every(takesGzip)).toBe(true)
    expect(['', 'br', 'gzip;q=0', 'gzip; q=0.0', undefined].some(takesGzip)).toBe(false)
  })
})

/** WCAG 2.2, "relative luminance" and "contrast ratio". */
function contrast(a: string, b: string): number {
  const luminance = (hex: string): number => {
    const [r = 0, g = 0, blue = 0] = [1, 3, 5].map((at) => {
      const c = Number.parseInt(hex.slice(at, at + 2), 16) / 255
      return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4
    })
    return 0.2126 * r + 0.7152 * g + 0.0722 * blue
  }
  const [dark = 0, light = 0] = [luminance(a), luminance(b)].toSorted((x, y) => x - y)
  return (light + 0.05) / (dark + 0.05)
}

describe('the button "I have seen it"', () => {
  it('stands at every alarm that acknowledging moves on, latched ones included, and at no other', () => {
    const states = Object.keys(TRANSITIONS) as AlarmState[]
    const offered = states.filter(isUnseen)
    expect(offered).toEqual(states.filter((state) => moved(state, 'acknowledge') !== state))
    expect(offered).toContain('latched')
  })
})

describe('a pushed message', () => {
  const payload = {
    version: 1,
    id: 'a1',
    kind: 'alarm',
    site: 'juniper',
    alarm: 'dry-well:well',
    priority: 'high',
    subject: 'No water comes',
    short: 'Since 13:31.',
  }

  it('becomes a note of its own for each alarm, which stays while it is urgent', () => {
    const note = noteOf(payload)
    expect(note).toEqual({
      title: 'No water comes',
      body: 'Since 13:31.',
      tag: 'juniper dry-well:well',
      stays: true,
      address: '/?site=juniper',
    })
    expect(noteOf({ ...payload, kind: 'all-clear' })).toMatchObject({ tag: note.tag, stays: false })
    expect(noteOf({ ...payload, priority: 'low' }).stays).toBe(false)
    expect(noteOf({ ...payload, kind: 'test', alarm: '' }).tag).toBe('juniper a1')
  })

  it('that cannot be read is said to be so, for a browser must show something', () => {
    for (const odd of [null, 7, 'text', [], {}, { ...payload, version: 2 }, { ...payload, site: 3 }]) {
      expect(noteOf(odd)).toMatchObject({ tag: 'not-read', address: '/' })
    }
  })

  it('leads only to the page itself, whatever the site is called', () => {
    expect(noteOf({ ...payload, site: '//elsewhere.example/?a=b#c' }).address).toBe(
      '/?site=%2F%2Felsewhere.example%2F%3Fa%3Db%23c',
    )
  })
})

describe('the colours', () => {
  it('reach 4.5 : 1 for text and 3 : 1 for lines (WCAG 2.2, 1.4.3 and 1.4.11), by day and by night', () => {
    // Black on white is 21 : 1 by definition.
    expect(contrast('#000000', '#ffffff')).toBeCloseTo(21, 6)
    const css = readFileSync(new URL('../../src/show/page/style.css', import.meta.url), 'utf8')
    const [day = '', night = ''] = [...css.matchAll(/:root \{([^}]*)\}/g)].map((match) => match[1] ?? '')
    for (const scheme of [day, night]) {
      const colour = (name: string): string => new RegExp(`--${name}: (#[0-9a-f]{6})`).exec(scheme)?.[1] ?? ''
      const pairs = [
        ['ink', 'paper', 4.5],
        ['soft', 'paper', 4.5],
        ['water-ink', 'paper', 4.5],
        ['trouble', 'paper', 4.5],
        ['ink', 'trouble-paper', 4.5],
        ['soft', 'trouble-paper', 4.5],
        ['water-ink', 'trouble-paper', 4.5],
        ['ink', 'water', 4.5],
        ['line', 'paper', 3],
        ['earth', 'paper', 3],
        ['curve', 'paper', 3],
        ['water-ink', 'water', 3],
      ] as const
      for (const [front, back, least] of pairs) {
        expect(contrast(colour(front), colour(back)), `${front} on ${back}`).toBeGreaterThanOrEqual(least)
      }
    }
  })
})
