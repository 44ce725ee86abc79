import { readFileSync } from 'node:fs'
import { inflateRawSync } from 'node:zlib'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { DAY } from '../../src/model/time.js'
import { packBlock, unpackBlock } from '../../src/record/block-codec.js'
import type { Columns } from '../../src/record/open-day.js'

const DAY_NUMBER = 20_468

function column(pairs: readonly (readonly [number, number])[]): Columns {
  const t = Float64Array.from(pairs, ([at]) => DAY_NUMBER * DAY + at)
  return { n: pairs.length, t, v: Float64Array.from(pairs, ([, value]) => value) }
}

function expectSame(found: Columns, expected: Columns): void {
  expect(found.n).toBe(expected.n)
  const differs = (_: number, i: number) => found.t[i] !== expected.t[i] || !Object.is(found.v[i], expected.v[i])
  expect(Array.from(expected.t).findIndex(differs)).toBe(-1)
}

/** A day at one interval with values by a rule. */
function day(everyMs: number, value: (i: number) => number): Columns {
  return column(Array.from({ length: DAY / everyMs }, (_, i) => [i * everyMs, value(i)]))
}

const times = fc.uniqueArray(fc.integer({ min: 0, max: DAY - 1 }), { maxLength: 200 })
const anyValue = fc.oneof(
  fc.double(),
  fc.integer({ min: -1_000_000, max: 1_000_000 }).map((whole) => whole / 1_000),
  fc.constantFrom(Number.NaN, 0, -0, Number.POSITIVE_INFINITY, 5e-324, 2 ** 30, -(2 ** 31), 0.1 + 0.2),
)

describe('packing a day', () => {
  it('gives every sample back bit for bit', () => {
    fc.assert(
      fc.property(times, fc.array(anyValue, { minLength: 200, maxLength: 200 }), (at, values) => {
        const made = column(at.sort((a, b) => a - b).map((t, i) => [t, values[i] ?? 0]))
        expectSame(unpackBlock(DAY_NUMBER, packBlock(DAY_NUMBER, made)), made)
      }),
      { numRuns: 300 },
    )
  })

  it.each([
    ['whole numbers with failures among them', (i: number) => (i % 97 === 0 ? Number.NaN : i % 7)],
    ['decimals', (i: number) => Math.round(Math.sin(i / 500) * 1_000) / 1_000],
    [
      'steps of a converter after a change of unit',
      (i: number) => (Math.round(Math.sin(i / 500) * 300) + 400) * 0.0254,
    ],
    ['such steps with failures among them', (i: number) => (i % 50 === 3 ? Number.NaN : (i % 40) * 0.0254)],
    ['full doubles', (i: number) => Math.sin(i)],
    ['nothing but failures', () => Number.NaN],
    ['a counter far beyond 32 bits', (i: number) => 5e12 + i],
    ['both zeros', (i: number) => (i % 2 === 0 ? 0 : -0)],
  ])('gives back %s', (_, rule) => {
    const made = day(10_000, rule)
    expectSame(unpackBlock(DAY_NUMBER, packBlock(DAY_NUMBER, made)), made)
  })

  it('spends less than a tenth of a byte a sample on a steady rhythm of a steady value', () => {
    expect(
      packBlock(
        DAY_NUMBER,
        day(10_000, () => 1.234),
      ).length / 8_640,
    ).toBeLessThan(0.1)
  })

  it('spends under 3 bytes a sample on a noisy converter after a change of unit', () => {
    const noisy = day(10_000, (i) => (500 + Math.round(8 * Math.sin(i * i))) * 0.0254)
    expect(packBlock(DAY_NUMBER, noisy).length / 8_640).toBeLessThan(3)
  })

  it('makes content that is plain RFC 1951 behind five bytes', () => {
    const packed = packBlock(
      DAY_NUMBER,
      day(60_000, (i) => i),
    )
    expect(inflateRawSync(packed.subarray(5)).length).toBeGreaterThan(1_440)
  })

  it('still reads a block that version 1 of the form wrote', () => {
    const text = readFileSync(new URL('fixtures/block-form-1.hex', import.meta.url), 'utf8')
    const found = unpackBlock(DAY_NUMBER, Buffer.from(text.trim(), 'hex'))
    expectSame(
      found,
      column([
        [0, 1.25],
        [10_000, 1.5],
        [20_000, Number.NaN],
        [30_500, -2],
      ]),
    )
  })
})

describe('a damaged block', () => {
  it('is told apart whatever single byte of it is changed', () => {
    const made = day(600_000, (i) => i / 4)
    const packed = packBlock(DAY_NUMBER, made)
    let refused = 0
    for (let at = 0; at < packed.length; at++) {
      const damaged = Buffer.from(packed)
      damaged[at] = (damaged[at] ?? 0) ^ 0x55
      let found: Columns | null = null
      try {
        found = unpackBlock(DAY_NUMBER, damaged)
      } catch {
        refused++
      }
      if (found !== null) expectSame(found, made)
    }
    // The padding bits of the last byte carry nothing: changed or not, the content is whole.
    expect(refused).toBeGreaterThanOrEqual(packed.length - 1)
  })

  it.each([0, 3, 5, 20])('is told apart when it is cut to %d bytes', (length) => {
    const packed = packBlock(
      DAY_NUMBER,
      day(600_000, (i) => i / 4),
    )
    expect(() => unpackBlock(DAY_NUMBER, packed.subarray(0, length))).toThrow()
  })
})
