import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { causesInWords } from '../../src/judge/diagnosis/causes.js'
import { diagnose } from '../../src/judge/diagnosis/classify.js'
import { normalCdf, SUPPORT_MAX, supportOf, supportOfSign } from '../../src/judge/diagnosis/likelihood.js'
import type { Readings } from '../../src/judge/diagnosis/readings.js'
import { ROW_IDS, ROWS, type RowId } from '../../src/judge/diagnosis/rows.js'

type Numbers = Partial<Record<keyof Readings['numbers'], number>>

/** Readings as a sound set of sensors gives them. */
function seen(numbers: Numbers, signs: Readings['signs'] = {}): Readings {
  const sds = { power: 0.03, rise: 0.05, rate: 0.05, hunt: 0.15, volts: 0.005, cold: 1 } as const
  const withDoubt = Object.entries(numbers).map(([name, value]) => [name, { value, sd: sds[name as keyof typeof sds] }])
  return { numbers: Object.fromEntries(withDoubt), signs }
}

/** What each alarm weighs, and then some. */
const DRY: readonly RowId[] = ['well-dry', 'prime-lost', 'weak-battery']
const ELSEWHERE: readonly RowId[] = ['water-lost', 'drawn', 'level-still']
const AGAINST: readonly RowId[] = ['blocked', 'iced', 'well-dry', 'drawn']
const SLOW: readonly RowId[] = ['drawn', 'leak-after', 'worn', 'clogged', 'holed', 'weak-battery', 'control-on']
const JAM: readonly RowId[] = ['locked', 'blocked', 'well-dry', 'drawn']

describe('the diagnosis table', () => {
  it.each<[string, Readings, RowId | null, string | null, readonly RowId[]]>([
    [
      'a fall to 52 % that hunts, after water had come',
      seen({ power: 0.52, rise: 0, hunt: 1, volts: 1.1 }, { 'from-start': false }),
      null,
      'no-water',
      DRY,
    ],
    [
      'light from the first second, steady',
      seen({ power: 0.5, rise: 0, hunt: 0, volts: 1.1 }, { 'from-start': true }),
      null,
      'no-water',
      DRY,
    ],
    [
      'the usual power and no water, nobody there',
      seen({ power: 0.97, rise: 0.03 }, { 'nobody-there': true, 'level-frozen': false }),
      'water-lost',
      null,
      ELSEWHERE,
    ],
    [
      'the usual power and a level that repeats one value',
      seen({ power: 1, rise: 0 }, { 'level-frozen': true }),
      'level-still',
      null,
      ELSEWHERE,
    ],
    ['1.6 times the power, no water, a warm day', seen({ power: 1.6, rise: 0, cold: 15 }), 'blocked', null, AGAINST],
    ['1.6 times the power, no water, a line at −2 °C', seen({ power: 1.6, rise: 0, cold: -2 }), 'iced', null, AGAINST],
    [
      'half the rate at nine tenths of the power',
      seen({ power: 0.9, rise: 0.45, rate: 0.5, volts: 1.15 }, { 'was-low': false }),
      null,
      'less-water',
      SLOW,
    ],
    [
      'the usual rate of the pump in a fill without end',
      seen({ power: 1, rise: 0.3, rate: 1.02, volts: 1.15 }, { 'nobody-there': false }),
      'drawn',
      null,
      SLOW,
    ],
    [
      'seven tenths of the rate and power from a battery at its limit',
      seen({ power: 0.68, rise: 0.7, rate: 0.72, volts: 1.01 }, { 'was-low': true }),
      'weak-battery',
      null,
      SLOW,
    ],
    ['four times the power', seen({ power: 4, rise: 0, volts: 1 }, { 'jammed-before': true }), 'locked', null, JAM],
  ])('makes of %s what the trade does', (_, readings, row, group, among) => {
    const found = diagnose(readings, among)
    expect(
      { row: found.row, group: found.group },
      JSON.stringify(found.ranked.slice(0, 4).map((one) => [one.row.id, one.share.toFixed(2)])),
    ).toEqual({ row, group })
  })

  it('a weak battery is told from a dry well by the voltage, though the amperes are the same', () => {
    const same = { power: 0.7, rise: 0.65 }
    const low = diagnose(seen({ ...same, volts: 0.98 }, { 'was-low': true }), [
      'well-dry',
      'prime-lost',
      'weak-battery',
    ])
    expect(low.row).toBe('weak-battery')
    const fit = diagnose(seen({ power: 0.7, rise: 0, volts: 1.15 }), ['well-dry', 'prime-lost', 'weak-battery'])
    expect(fit.group).toBe('no-water')
  })

  it('says which of two that look alike is the likelier by how the run began, and names neither alone', () => {
    const began = diagnose(seen({ power: 0.5 }, { 'from-start': true }), ['well-dry', 'prime-lost'])
    const fell = diagnose(seen({ power: 0.5 }, { 'from-start': false, 'crept-up': true }), ['well-dry', 'prime-lost'])
    expect(began.ranked[0]?.row.id).toBe('prime-lost')
    expect(fell.ranked[0]?.row.id).toBe('well-dry')
    expect([began.row, fell.row]).toEqual([null, null])
    expect(causesInWords(fell)).toHaveLength(2)
    expect(causesInWords(fell)[0]).toContain('For it speaks: a current that had crept up before')
  })

  it('names nothing where nothing was read', () => {
    const nothing = diagnose(seen({}), ['water-lost', 'drawn', 'level-still'])
    expect({ row: nothing.row, group: nothing.group }).toEqual({ row: null, group: null })
    expect(causesInWords(nothing)).toHaveLength(3)
    expect(causesInWords(nothing).join(' ')).not.toContain('speaks')
  })

  it('never names one cause of a group alone, whatever is read, and its shares are a whole', () => {
    const value = fc.record({
      power: fc.double({ min: 0, max: 4, noNaN: true }),
      rise: fc.double({ min: -1, max: 1.3, noNaN: true }),
      rate: fc.double({ min: 0, max: 1.3, noNaN: true }),
      hunt: fc.double({ min: -1, max: 1.5, noNaN: true }),
      volts: fc.double({ min: 0.85, max: 1.25, noNaN: true }),
      cold: fc.double({ min: -25, max: 35, noNaN: true }),
    })
    fc.assert(
      fc.property(value, fc.boolean(), fc.boolean(), (numbers, start, frozen) => {
        const found = diagnose(seen(numbers, { 'from-start': start, 'level-frozen': frozen }), ROW_IDS)
        expect(found.ranked.reduce((sum, one) => sum + one.share, 0)).toBeCloseTo(1, 9)
        if (found.row !== null) expect(ROWS.find(({ id }) => id === found.row)?.group).toBeNull()
      }),
    )
  })
})

describe('how strongly a reading speaks', () => {
  it('rests on the normal distribution (Abramowitz & Stegun, table 26.1)', () => {
    for (const [z, p] of [
      [0, 0.5],
      [0.5, 0.6914624613],
      [1, 0.8413447461],
      [1.96, 0.9750021049],
      [3, 0.998650102],
    ] as const) {
      expect(normalCdf(z)).toBeCloseTo(p, 6)
      expect(normalCdf(-z)).toBeCloseTo(1 - p, 6)
    }
  })

  it('is bounded both ways, so that no single reading decides alone', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -50, max: 50, noNaN: true }),
        fc.double({ min: 0, max: 30, noNaN: true }),
        (value, sd) => {
          expect(Math.abs(supportOf(value, sd, [0.9, 1.1], [0, 4]))).toBeLessThanOrEqual(SUPPORT_MAX)
        },
      ),
    )
    expect(Math.abs(supportOfSign(true, 1, 0.01))).toBeLessThanOrEqual(SUPPORT_MAX)
  })

  it('grows weaker as the reading grows more doubtful', () => {
    const sharp = supportOf(1, 0.02, [0.9, 1.1], [0, 4])
    const vague = supportOf(1, 1, [0.9, 1.1], [0, 4])
    expect(sharp).toBeGreaterThan(1)
    expect(vague).toBeLessThan(0.4)
  })
})
