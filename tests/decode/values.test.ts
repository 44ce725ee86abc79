import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { interpolate } from '../../src/decode/target.js'
import type { SignalSettings } from '../../src/model/settings.js'
import { arrivalOf, boardOf, decodeOne, fromPump, fromTank, mapped, reasons, signalOf, siteOf, values } from './site.js'

function native(settings: Partial<SignalSettings>, record: object, key = 'tank-level') {
  const site = siteOf([boardOf('tank-board', [signalOf(key, settings)])])
  return decodeOne(site, arrivalOf('water/juniper/tank-board', [{ n: key, ...record }]))
}

describe('a quantity in a SenML record', () => {
  it.each([
    ['tank-level', 'mm', 1234, 1.234],
    ['tank-level', 'cm', 123.4, 1.234],
    ['battery-voltage', 'mV', 25_310, 25.31],
    ['pump-current', 'mA', 4100, 4.1],
    ['air-temperature', 'K', 280.15, 7],
    ['pump-flow', 'm3/s', 0.0001, 0.1],
    ['pump-volume', 'm3', 1.5, 1500],
    ['house-pressure', 'hPa', 3000, 300_000],
  ])('%s in %s: %d is %d in SI', (key, u, v, expected) => {
    const decoded = native({}, { u, v }, key)
    expect(reasons(decoded)).toEqual([])
    expect(values(decoded)[0]).toBeCloseTo(expected, 9)
  })

  it('without a unit is SI; with the base unit of another signal it is refused', () => {
    expect(values(fromTank([{ n: 'tank-level', v: 1.2 }]))).toEqual([1.2])
    expect(reasons(fromTank([{ bu: 'Cel', n: 'tank-level', v: 1.2 }]))).toEqual(['unit'])
  })

  it('has its base value added before it is judged', () => {
    expect(values(fromTank([{ bv: 1, n: 'tank-level', u: 'm', v: 0.2 }]))).toEqual([1.2])
    expect(reasons(fromTank([{ bv: 100, n: 'tank-level', u: 'm', v: 0.2 }]))).toEqual(['out-of-range'])
  })

  it('at the limit of its role is believed', () => {
    expect(
      values(
        fromTank([
          { n: 'tank-level', v: 20 },
          { n: 'tank-level', v: -0.1, t: -1 },
        ]),
      ),
    ).toEqual([20, -0.1])
  })

  it('must also be within the configured limits, which can only be narrower', () => {
    expect(reasons(native({ high: 1.8 }, { v: 1.9 }))).toEqual(['out-of-range'])
    expect(reasons(native({ low: 0.1 }, { v: 0.05 }))).toEqual(['out-of-range'])
    expect(reasons(native({ high: 1000 }, { v: 21 }))).toEqual(['out-of-range'])
  })

  it('that the configuration names as failed is one', () => {
    expect(reasons(native({ sentinels: [9.99] }, { v: 9.99 }))).toEqual(['sentinel'])
    expect(reasons(native({ sentinels: [9.99] }, { v: 9.98 }))).toEqual([])
  })

  it('may be corrected by scale and offset, in the unit of the record', () => {
    expect(values(native({ scale: 1.02, offset: 5 }, { u: 'cm', v: 100 }))[0]).toBeCloseTo(1.07, 12)
  })
})

describe('a total in a SenML record', () => {
  it('is the value of a counter in litres', () => {
    expect(values(fromPump([{ n: 'pump-volume', u: 'l', v: 120.5 }]))).toEqual([120.5])
  })

  it('may be the sum of a flow over time (RFC 8428 section 4.2)', () => {
    expect(values(fromPump([{ n: 'pump-volume', u: 'l/s', s: 120.5 }]))).toEqual([120.5])
    expect(values(fromPump([{ n: 'pump-volume', u: 'l/s', v: 0.07, bs: 100, s: 20.5 }]))).toEqual([120.5])
    expect(values(fromPump([{ n: 'pump-volume', u: 'm3/s', s: 0.125 }]))).toEqual([125])
  })

  it('is no sum of something else', () => {
    expect(reasons(fromPump([{ n: 'pump-volume', u: 'l', s: 120.5 }]))).toEqual(['unit'])
    expect(reasons(fromPump([{ n: 'pump-flow', u: 'l/s', s: 120.5 }]))).toEqual(['unit'])
  })
})

describe('a sensor that has failed', () => {
  it.each([
    ['unplugged, in Fahrenheit', 'air-temperature', { unit: 'degF' }, '-196.6'],
    ['browned out, in Fahrenheit', 'air-temperature', { unit: 'degF' }, '185.0'],
    ['a bus fault', 'air-temperature', {}, '127.94'],
    ['12 bits full behind a scale', 'pump-current', { scale: 0.005, offset: -10 }, '4095'],
    [
      '16 bits full behind a table',
      'tank-level',
      {
        table: [
          [0, 0],
          [65_535, 2],
        ] as const,
      },
      '65535',
    ],
    [
      'a current loop that is cut, by its table',
      'tank-level',
      {
        table: [
          [4, 0],
          [20, 2],
        ] as const,
        sentinels: [0],
      },
      '0',
    ],
  ])('%s: is refused as sentinel and kept as a lost value', (_what, key, settings, sent) => {
    const decoded = mapped(key, settings, sent)
    expect(reasons(decoded)).toEqual(['sentinel'])
    expect(values(decoded)).toEqual([Number.NaN])
  })

  it('85 degrees Fahrenheit is a warm day', () => {
    expect(values(mapped('air-temperature', { unit: 'degF' }, '85'))[0]).toBeCloseTo(29.444, 3)
  })
})

describe('a mapped quantity', () => {
  it.each([
    ['air-temperature', 'degF', '23', -5],
    ['house-pressure', 'psi', '40', 275_790.29],
    ['pump-flow', 'gpm', '1', 0.0630902],
    ['pump-volume', 'gal', '100', 378.5411784],
    ['tank-level', 'in', '42', 1.0668],
    ['tank-level', 'ft', '3.5', 1.0668],
    ['humidity', '%', '40', 40],
  ])('%s in %s: %s is %d in SI', (key, unit, sent, expected) => {
    expect(values(mapped(key, { unit }, sent))[0]).toBeCloseTo(expected, 2)
  })

  it('is scaled and shifted in its own unit before it is converted', () => {
    expect(values(mapped('tank-level', { unit: 'in', scale: 0.1, offset: 2 }, '400'))[0]).toBeCloseTo(42 * 0.0254, 12)
  })

  it('is read between calibration points, and nowhere else', () => {
    const table = [
      [400, 0],
      [800, 1],
      [1200, 1.5],
    ] as const
    expect(values(mapped('tank-level', { table }, '400'))).toEqual([0])
    expect(values(mapped('tank-level', { table }, '600'))).toEqual([0.5])
    expect(values(mapped('tank-level', { table }, '1000'))).toEqual([1.25])
    expect(values(mapped('tank-level', { table }, '1200'))).toEqual([1.5])
    for (const sent of ['399', '1201']) {
      expect(reasons(mapped('tank-level', { table }, sent))).toEqual(['out-of-range'])
    }
  })

  it('a calibration that rises gives a value that rises', () => {
    const points = fc.uniqueArray(fc.integer({ min: -1000, max: 1000 }), { minLength: 2, maxLength: 8 })
    fc.assert(
      fc.property(points, fc.nat(999), fc.nat(999), (raws, a, b) => {
        const table = raws.sort((x, y) => x - y).map((raw, index) => [raw, index * 2] as const)
        const [first, last] = [raws[0] ?? 0, raws.at(-1) ?? 0]
        const at = (share: number) => interpolate(table, first + ((last - first) * share) / 999)
        expect(Math.sign(at(a) - at(b))).toBe(Math.sign(a - b))
      }),
    )
  })
})

describe('a contact', () => {
  it.each([
    [{ vb: true }, 1],
    [{ vb: false }, 0],
    [{ v: 1 }, 1],
    [{ v: 0 }, 0],
    [{ u: '/', v: 1 }, 1],
    [{ vs: 'wet' }, 1],
    [{ vs: 'Dry' }, 0],
  ])('in SenML %j is %d', (record, expected) => {
    expect(values(fromTank([{ n: 'tank-probe-low', ...record }]))).toEqual([expected])
  })

  it.each(['true', '1', 'on', 'ON', ' Wet ', 'yes', '1.0', 'online'])('mapped "%s" is true', (sent) => {
    expect(values(mapped('tank-probe-low', {}, sent))).toEqual([1])
  })

  it.each(['false', '0', 'off', 'OFF', ' Dry ', 'no', '0.0', 'offline'])('mapped "%s" is false', (sent) => {
    expect(values(mapped('tank-probe-low', {}, sent))).toEqual([0])
  })

  it.each([
    ['', 'not-senml'],
    ['maybe', 'not-senml'],
    ['2', 'out-of-range'],
    ['unavailable', 'not-finite'],
    ['nan', 'not-finite'],
  ])('mapped "%s" is neither: %s', (sent, reason) => {
    expect(reasons(mapped('tank-probe-low', {}, sent))).toEqual([reason])
    expect(values(mapped('tank-probe-low', {}, sent))).not.toContain(0)
  })

  it('is true for what the configuration names, and false for any other reading', () => {
    const settings = { trueWhen: ['OPEN', 7] } as const
    expect(values(mapped('tank-probe-low', settings, 'open'))).toEqual([1])
    expect(values(mapped('tank-probe-low', settings, '7'))).toEqual([1])
    expect(values(mapped('tank-probe-low', settings, 'closed'))).toEqual([0])
    expect(values(mapped('tank-probe-low', settings, 'on'))).toEqual([0])
    expect(reasons(mapped('tank-probe-low', settings, 'unknown'))).toEqual(['not-finite'])
    expect(reasons(mapped('tank-probe-low', settings, ''))).toEqual(['not-senml'])
  })

  it('can be turned round, in either spelling', () => {
    for (const trueWhen of [[false], [0]]) {
      expect(values(native({ trueWhen }, { vb: false }, 'tank-probe-low'))).toEqual([1])
      expect(values(native({ trueWhen }, { v: 0 }, 'tank-probe-low'))).toEqual([1])
      expect(values(native({ trueWhen }, { vb: true }, 'tank-probe-low'))).toEqual([0])
    }
  })

  it('may have a value that means failed', () => {
    expect(reasons(mapped('tank-probe-low', { sentinels: [-1] }, '-1'))).toEqual(['sentinel'])
  })
})
