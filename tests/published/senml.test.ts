/**
 * SenML, RFC 8428 (August 2018): every JSON example of section 5.1 with its resolved form, and the rules of section 4.
 * The examples are those of the RFC and of its working group's repository (core-wg/senml-spec, exN.gen.json and
 * exN.gen.resolved.json). Times agree within 1 ms, the RFC's own precision.
 */
import { describe, expect, it } from 'vitest'
import { type Resolved, RELATIVE_BELOW_S, resolvePack } from '../../src/decode/senml.js'

const NOW_S = 1_764_000_000

const short = (pack: readonly unknown[], nowS = NOW_S) =>
  resolvePack(pack, nowS).map(({ name, unit, timeS, value }) => [name, unit, Number(timeS.toFixed(3)), value])

const only = (pack: readonly unknown[], nowS = NOW_S): Readonly<Resolved> => {
  const [record, ...rest] = resolvePack(pack, nowS)
  if (record === undefined || rest.length > 0) throw new Error('expected one record')
  return record
}

const WIRE = 'urn:dev:ow:10e2073a01080063'

describe('RFC 8428 section 5.1, examples', () => {
  it('5.1.1: one record without a time was measured now', () => {
    expect(short([{ n: WIRE, u: 'Cel', v: 23.1 }])).toEqual([[WIRE, 'Cel', NOW_S, 23.1]])
  })

  it('5.1.2: a base name is put before each name', () => {
    const pack = [
      { bn: `${WIRE}:`, n: 'voltage', u: 'V', v: 120.1 },
      { n: 'current', u: 'A', v: 1.2 },
    ]
    expect(short(pack)).toEqual([
      [`${WIRE}:voltage`, 'V', NOW_S, 120.1],
      [`${WIRE}:current`, 'A', NOW_S, 1.2],
    ])
  })

  it('5.1.2: times count from the base time, a unit of the record goes before the base unit, bver 5 is understood', () => {
    const pack = [
      { bn: 'urn:dev:ow:10e2073a0108006:', bt: 1.276020076001e9, bu: 'A', bver: 5, n: 'voltage', u: 'V', v: 120.1 },
      { n: 'current', t: -5, v: 1.2 },
      { n: 'current', t: -4, v: 1.3 },
      { n: 'current', t: -3, v: 1.4 },
      { n: 'current', t: -2, v: 1.5 },
      { n: 'current', t: -1, v: 1.6 },
      { n: 'current', v: 1.7 },
    ]
    const current = 'urn:dev:ow:10e2073a0108006:current'
    expect(short(pack)).toEqual([
      [current, 'A', 1276020071.001, 1.2],
      [current, 'A', 1276020072.001, 1.3],
      [current, 'A', 1276020073.001, 1.4],
      [current, 'A', 1276020074.001, 1.5],
      [current, 'A', 1276020075.001, 1.6],
      ['urn:dev:ow:10e2073a0108006:voltage', 'V', 1276020076.001, 120.1],
      [current, 'A', 1276020076.001, 1.7],
    ])
  })

  it('5.1.2: a stream of humidity keeps base name, time and unit for every record', () => {
    const rises = [21.3, 21.4, 21.4, 21.5, 21.5, 21.5, 21.6, 21.7]
    const pack = [
      { bn: WIRE, bt: 1.320067464e9, bu: '%RH', v: 21.2 },
      ...rises.map((v, index) => ({ t: (index + 1) * 10, v })),
    ]
    expect(short(pack)).toEqual([21.2, ...rises].map((v, index) => [WIRE, '%RH', 1320067464 + index * 10, v]))
  })

  it('5.1.3 resolves to 5.1.4: humidity, position and charge of one moving device', () => {
    const pack = [
      { bn: WIRE, bt: 1.320067464e9, bu: '%RH', v: 20 },
      { u: 'lon', v: 24.30621 },
      { u: 'lat', v: 60.07965 },
      { t: 60, v: 20.3 },
      { u: 'lon', t: 60, v: 24.30622 },
      { u: 'lat', t: 60, v: 60.07965 },
      { t: 120, v: 20.7 },
      { u: 'lon', t: 120, v: 24.30623 },
      { u: 'lat', t: 120, v: 60.07966 },
      { u: '%EL', t: 150, v: 98 },
      { t: 180, v: 21.2 },
      { u: 'lon', t: 180, v: 24.30628 },
      { u: 'lat', t: 180, v: 60.07967 },
    ]
    expect(short(pack)).toEqual([
      [WIRE, '%RH', 1320067464, 20],
      [WIRE, 'lon', 1320067464, 24.30621],
      [WIRE, 'lat', 1320067464, 60.07965],
      [WIRE, '%RH', 1320067524, 20.3],
      [WIRE, 'lon', 1320067524, 24.30622],
      [WIRE, 'lat', 1320067524, 60.07965],
      [WIRE, '%RH', 1320067584, 20.7],
      [WIRE, 'lon', 1320067584, 24.30623],
      [WIRE, 'lat', 1320067584, 60.07966],
      [WIRE, '%EL', 1320067614, 98],
      [WIRE, '%RH', 1320067644, 21.2],
      [WIRE, 'lon', 1320067644, 24.30628],
      [WIRE, 'lat', 1320067644, 60.07967],
    ])
  })

  it('5.1.5: numbers, strings, booleans and data stand side by side', () => {
    const pack = [
      { bn: `${WIRE}:`, n: 'temp', u: 'Cel', v: 23.1 },
      { n: 'label', vs: 'Machine Room' },
      { n: 'open', vb: false },
      { n: 'nfv-reader', vd: 'aGkgCg' },
    ]
    const resolved = resolvePack(pack, NOW_S)
    expect(resolved.map(({ kind, value }) => [kind, value])).toEqual([
      ['number', 23.1],
      ['string', 'Machine Room'],
      ['boolean', false],
      ['data', 'aGkgCg'],
    ])
    expect(Buffer.from(String(resolved[3]?.value), 'base64url').toString()).toBe('hi \n')
  })

  it('5.1.6: a second base name replaces the first, and the base time stays', () => {
    const pack = [
      { bn: '2001:db8::2/', bt: 1.320078429e9, n: 'temperature', u: 'Cel', v: 25.2 },
      { n: 'humidity', u: '%RH', v: 30 },
      { bn: '2001:db8::1/', n: 'temperature', u: 'Cel', v: 12.3 },
      { n: 'humidity', u: '%RH', v: 67 },
    ]
    expect(short(pack)).toEqual([
      ['2001:db8::2/temperature', 'Cel', 1320078429, 25.2],
      ['2001:db8::2/humidity', '%RH', 1320078429, 30],
      ['2001:db8::1/temperature', 'Cel', 1320078429, 12.3],
      ['2001:db8::1/humidity', '%RH', 1320078429, 67],
    ])
  })

  it('5.1.7: a record of base fields alone gives no value and serves those after it', () => {
    const pack = [
      { bn: `${WIRE}:` },
      { n: 'temp', u: 'Cel', v: 23.1 },
      { n: 'heat', u: '/', v: 1 },
      { n: 'fan', u: '/', v: 0 },
    ]
    expect(short(pack)).toEqual([
      [`${WIRE}:temp`, 'Cel', NOW_S, 23.1],
      [`${WIRE}:heat`, '/', NOW_S, 1],
      [`${WIRE}:fan`, '/', NOW_S, 0],
    ])
  })

  it('5.1.7: one name may stand twice in a pack, at two times', () => {
    const pack = [
      { bt: 1.320078429e9, bu: '/', n: '2001:db8::3', v: 0.5 },
      { n: '2001:db8::4', v: 0.5 },
      { n: '2001:db8::3', t: 0.1, v: 0 },
      { n: '2001:db8::4', t: 0.1, v: 0 },
    ]
    expect(short(pack)).toEqual([
      ['2001:db8::3', '/', 1320078429, 0.5],
      ['2001:db8::4', '/', 1320078429, 0.5],
      ['2001:db8::3', '/', 1320078429.1, 0],
      ['2001:db8::4', '/', 1320078429.1, 0],
    ])
  })
})

describe('RFC 8428 section 4, rules', () => {
  it('4: a base field holds from its record on, and not before it', () => {
    const pack = [
      { n: 'a', v: 1 },
      { n: 'b', bn: 'x:', bu: 'V', v: 2 },
      { n: 'c', v: 3 },
    ]
    expect(short(pack)).toEqual([
      ['a', '', NOW_S, 1],
      ['x:b', 'V', NOW_S, 2],
      ['x:c', 'V', NOW_S, 3],
    ])
  })

  it.each([1, 5, 9, 10])('4.1: bver %d is understood', (bver) => {
    expect(only([{ bver, n: 'a', v: 1 }]).value).toBe(1)
  })

  it.each([11, 12, 25, 27, 1e9, 0, -1, 10.5, '10', null, true])('4.1, 4.4: bver %j forbids the pack', (bver) => {
    expect(() => resolvePack([{ bver, n: 'a', v: 1 }], NOW_S)).toThrow(/bver/)
  })

  it('RFC 9100: version 26 is version 10 with secondary units (the number is from memory)', () => {
    expect(only([{ bver: 26, n: 'a', u: 'mV', v: 1 }]).unit).toBe('mV')
  })

  it.each([
    [[{ bver: 10 }, { n: 'a', v: 1 }, { bver: 9, n: 'b', v: 1 }]],
    [
      [
        { n: 'a', v: 1 },
        { bver: 9, n: 'b', v: 1 },
      ],
    ],
    [
      [
        { n: 'a', v: 1 },
        { bver: 11, n: 'b', v: 1 },
      ],
    ],
  ])('4.4: all records of a pack are of one version: %j', (pack) => {
    expect(() => resolvePack(pack, NOW_S)).toThrow(/bver/)
  })

  it.each([
    { v: 1, vs: 'x' },
    { v: 1, vb: true },
    { vs: 'x', vd: 'eA' },
    { vb: true, vd: 'eA' },
    { v: 1, vs: 'x', vb: true, vd: 'eA' },
    { v: 1, vb: true, s: 1 },
    {},
  ])('4.2: exactly one value field, unless there is a sum: %j is refused', (fields) => {
    expect(() => resolvePack([{ n: 'a', ...fields }], NOW_S)).toThrow(/one of/)
  })

  it('4.2: a sum may stand alone or beside a value', () => {
    expect(only([{ n: 'a', s: 7 }])).toMatchObject({ kind: 'none', value: null, sum: 7 })
    expect(only([{ n: 'a', v: 2, s: 7 }])).toMatchObject({ kind: 'number', value: 2, sum: 7 })
  })

  it('4.2: the update time is carried over', () => {
    expect(only([{ n: 'a', v: 2, ut: 60 }]).updateS).toBe(60)
    expect(only([{ n: 'a', v: 2 }]).updateS).toBeNull()
  })

  it('4.4: an unknown label is passed over, one that ends in _ is an error', () => {
    expect(only([{ n: 'a', v: 1, colour: 'red' }]).value).toBe(1)
    expect(() => resolvePack([{ n: 'a', v: 1, colour_: 'red' }], NOW_S)).toThrow('colour_')
  })

  it('4.4: an unknown base label that must be understood spoils the records after it too', () => {
    expect(() => resolvePack([{ bx_: 1 }, { n: 'a', v: 1 }], NOW_S)).toThrow('bx_')
  })

  it.each(['a', '9', 'A-Z', 'urn:dev:ow:1', '2001:db8::1/x', 'a.b_c-d:e/f'])('4.5.1: the name %s is allowed', (n) => {
    expect(only([{ n, v: 1 }]).name).toBe(n)
  })

  it.each(['', '-a', ':a', '.a', '/a', '_a', 'a b', 'a%b', 'a+b', 'ä', 'a#', 'a\n'])(
    '4.5.1: the name %j is not',
    (n) => {
      expect(() => resolvePack([{ n, v: 1 }], NOW_S)).toThrow(/name/)
    },
  )

  it('4.5.1: what counts is the joined name, not its parts', () => {
    expect(only([{ bn: 'dev', n: ':x', v: 1 }]).name).toBe('dev:x')
    expect(only([{ bn: 'dev', v: 1 }]).name).toBe('dev')
    expect(() => resolvePack([{ bn: ':', n: 'x', v: 1 }], NOW_S)).toThrow(/name/)
  })

  it('4.5.2: without unit and base unit a record has none', () => {
    expect(only([{ n: 'a', v: 1 }]).unit).toBe('')
  })

  it('4.5.3: a sum of times below 2^28 s counts from now, from there on from 1970', () => {
    expect(RELATIVE_BELOW_S).toBe(2 ** 28)
    expect(only([{ n: 'a', v: 1, t: -120 }]).timeS).toBe(NOW_S - 120)
    expect(only([{ n: 'a', v: 1, t: 2 ** 28 - 1 }]).timeS).toBe(NOW_S + 2 ** 28 - 1)
    expect(only([{ n: 'a', v: 1, t: 2 ** 28 }]).timeS).toBe(2 ** 28)
    expect(new Date(RELATIVE_BELOW_S * 1000).toISOString()).toBe('1978-07-04T21:24:16.000Z')
  })

  it('4.5.3: the sum decides, not the parts', () => {
    expect(only([{ n: 'a', v: 1, bt: NOW_S + 5, t: -NOW_S }]).timeS).toBe(NOW_S + 5)
    expect(only([{ n: 'a', v: 1, bt: 2 ** 27, t: 2 ** 27 }]).timeS).toBe(2 ** 28)
  })

  it('4.5.4: base value and value are added, and so are base sum and sum; a missing one is zero', () => {
    expect(only([{ n: 'a', bv: 20, v: 1.5 }]).value).toBe(21.5)
    expect(only([{ n: 'a', bs: 100, s: 5 }]).sum).toBe(105)
    expect(only([{ n: 'a', bs: 100, v: 5 }]).sum).toBe(100)
    expect(only([{ n: 'a', bv: 20, vb: true }]).value).toBe(true)
  })

  it('4.6: the resolved records are in order of time', () => {
    const pack = [
      { n: 'a', v: 1, t: -1 },
      { n: 'a', v: 2, t: -3 },
      { n: 'a', v: 3, t: -2 },
    ]
    expect(resolvePack(pack, NOW_S).map(({ value }) => value)).toEqual([2, 3, 1])
  })

  it('5: every IEEE double is read, and 1.1 is 1.10', () => {
    const texts = ['1.7976931348623157e308', '5e-324', '-0.0', '1.1', '1.10', '123456789012345678']
    for (const v of texts) {
      expect(only(JSON.parse(`[{"n":"a","v":${v}}]`)).value).toBe(Number(v) + 0)
    }
  })
})
