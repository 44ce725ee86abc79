import { describe, expect, it } from 'vitest'
import { createDecoder } from '../../src/decode/decoder.js'
import type { SignalSettings } from '../../src/model/settings.js'
import { AT, arrivalOf, boardOf, decodeOne, fromTank, reasons, type Sent, signalOf, siteOf, values } from './site.js'

const TANK = 'water/juniper/tank-board'

const json = (key: string, pointer: string, settings: Partial<SignalSettings> = {}) =>
  signalOf(key, { decode: 'json', topic: 'old/weather', pointer, ...settings })

describe('names', () => {
  it.each([
    'tank-level',
    'tank-board:tank-level',
    'tank-board/tank-level',
    'urn:dev:mac:0024befffe804ff1:tank-level',
    '2001:db8::2/tank-level',
    'a/b/c:tank-level',
  ])('%s means the signal tank-level', (n) => {
    expect(fromTank([{ n, v: 1.2 }]).samples).toEqual([{ key: 'tank-level', role: 'tank-level', t: AT, value: 1.2 }])
  })

  it.each(['tank-level:raw', 'tank-level/', 'old-tank-level', 'tank.tank-level', 'tank_tank-level'])(
    '%s does not',
    (n) => {
      expect(reasons(fromTank([{ n, v: 1.2 }]))).toEqual(['unknown-name'])
    },
  )

  it('may be joined from a base name', () => {
    expect(values(fromTank([{ bn: 'urn:dev:mac:0024befffe804ff1:' }, { n: 'tank-level', v: 1.2 }]))).toEqual([1.2])
    expect(values(fromTank([{ bn: 'tank-', n: 'level', v: 1.2 }]))).toEqual([1.2])
  })

  it('are the board’s own words where the configuration says so', () => {
    const site = siteOf([boardOf('tank-board', [signalOf('tank-level', { name: 'lvl' })])])
    const decoded = decodeOne(
      site,
      arrivalOf(TANK, [
        { n: 'lvl', v: 1.2 },
        { n: 'tank-level', v: 1.3 },
      ]),
    )
    expect(values(decoded)).toEqual([1.2])
    expect(reasons(decoded)).toEqual(['unknown-name'])
  })

  it('tell two devices behind one board apart when their whole names are configured', () => {
    const site = siteOf([
      boardOf('tank-board', [
        signalOf('line-temperature.kitchen', { name: '2001:db8::1/temperature' }),
        signalOf('line-temperature.well', { name: '2001:db8::2/temperature' }),
        signalOf('air-temperature', { name: 'temperature' }),
      ]),
    ])
    const pack = [
      { bn: '2001:db8::1/', n: 'temperature', u: 'Cel', v: 1 },
      { bn: '2001:db8::2/', n: 'temperature', u: 'Cel', v: 2 },
      { bn: '2001:db8::3/', n: 'temperature', u: 'Cel', v: 3 },
    ]
    expect(decodeOne(site, arrivalOf(TANK, pack)).samples.map(({ key, value }) => [key, value])).toEqual([
      ['line-temperature.kitchen', 1],
      ['line-temperature.well', 2],
      ['air-temperature', 3],
    ])
  })

  it('that a board invents without end are refused each time, and the known ones still found', () => {
    const decoder = createDecoder([siteOf()])
    for (let index = 0; index < 3000; index++) decoder.decode(arrivalOf(TANK, [{ n: `x${index}`, v: 1 }]))
    const [decoded] = decoder.decode(
      arrivalOf(TANK, [
        { n: 'x2999', v: 1 },
        { n: 'humidity', v: 40 },
      ]),
    )
    expect(decoded?.refusals.map(({ reason }) => reason)).toEqual(['unknown-name'])
    expect(decoded?.samples.map(({ value }) => value)).toEqual([40])
  })
})

describe('refusals', () => {
  it('name the board, the moment of receipt and the offending record, shortened', () => {
    const decoded = fromTank([{ n: 'tank-level', u: 'ft', v: 3, note: 'x'.repeat(500) }])
    const [refusal] = decoded.refusals
    expect(refusal).toMatchObject({ reason: 'unit', board: 'tank-board', at: AT })
    expect(refusal?.example).toMatch(/^\{"n":"tank-level","u":"ft","v":3,"note":"x+…$/)
    expect(refusal?.example.length).toBeLessThanOrEqual(120)
  })

  it('show nothing that could disguise itself on a terminal or a page', () => {
    const [refusal] = fromTank('{"\u001b[31m\u202e\u0000\u2028": 1}').refusals
    expect(refusal?.example).toContain('{"·[31m···"')
  })

  it('show a name that cannot be read', () => {
    expect(fromTank([{ n: 'tank\nlevel', v: 1 }]).refusals[0]?.example).toContain('tank·level')
  })
})

describe('topics', () => {
  const both = () =>
    siteOf([
      boardOf('tank-board', [
        signalOf('tank-level'),
        signalOf('tank-probe-low', { decode: 'number', topic: 'old/probe' }),
        json('air-temperature', '/t', { unit: 'degF' }),
        json('humidity', '/rh'),
      ]),
      boardOf('pump-board', [json('battery-voltage', '/v')]),
    ])

  it('are each board’s own and those of its mapped signals, once each', () => {
    expect(createDecoder([both()]).topics()).toEqual([TANK, 'old/probe', 'old/weather', 'water/juniper/pump-board'])
  })

  it('may serve several boards: each gets its own part', () => {
    const decoded = createDecoder([both()]).decode(arrivalOf('old/weather', '{"t":23,"rh":40,"v":25.1}'))
    expect(
      decoded.map(({ board, samples }) => [board, samples.map(({ key, value }) => [key, Math.round(value)])]),
    ).toEqual([
      [
        'tank-board',
        [
          ['air-temperature', -5],
          ['humidity', 40],
        ],
      ],
      ['pump-board', [['battery-voltage', 25]]],
    ])
  })

  it('may carry some of their signals and not others', () => {
    const [tank] = createDecoder([both()]).decode(arrivalOf('old/weather', '{"rh":40}'))
    expect(tank?.samples.map(({ key }) => key)).toEqual(['humidity'])
    expect(tank?.refusals).toEqual([])
  })

  it('let a board send both forms on its own topic', () => {
    const site = siteOf([boardOf('tank-board', [signalOf('tank-level'), json('humidity', '/rh', { topic: null })])])
    const send = (sent: Sent) => decodeOne(site, arrivalOf(TANK, sent))
    expect(values(send([{ n: 'tank-level', v: 1.2 }]))).toEqual([1.2])
    expect(values(send('{"rh":40}'))).toEqual([40])
    expect(reasons(send('[]'))).toEqual(['not-senml'])
    expect(reasons(send('x'))).toEqual(['not-senml'])
  })

  it('keep two sites apart', () => {
    const fern = siteOf([boardOf('tank-board', [signalOf('tank-level')], 'water/fern/tank-board')], 'fern')
    const decoder = createDecoder([siteOf(), fern])
    const [one] = decoder.decode(arrivalOf('water/fern/tank-board', [{ n: 'tank-level', v: 1.2 }]))
    expect(one).toMatchObject({ site: 'fern', board: 'tank-board' })
  })

  it('that no board has are refused under the site that they name, without a board', () => {
    const fern = siteOf([], 'fern')
    const decoder = createDecoder([siteOf(), fern])
    const [decoded] = decoder.decode(arrivalOf('water/fern/new-board', [{ n: 'tank-level', v: 1.2 }]))
    expect(decoded).toMatchObject({ site: 'fern', board: '', samples: [] })
    expect(decoded?.refusals).toEqual([
      { reason: 'unknown-name', board: '', at: AT, example: 'no board has this topic: water/fern/new-board' },
    ])
    expect(decoder.decode(arrivalOf('elsewhere', '1'))).toEqual([])
    expect(createDecoder([fern]).decode(arrivalOf('elsewhere', '1'))).toHaveLength(1)
    expect(createDecoder([fern]).decode(arrivalOf('$SYS/uptime', '1'))).toEqual([])
  })

  it('of a board without signals are listened to, so that its first words are seen as unknown', () => {
    const site = siteOf([boardOf('new-board', [])])
    expect(reasons(decodeOne(site, arrivalOf('water/juniper/new-board', [{ n: 'x', v: 1 }])))).toEqual(['unknown-name'])
  })
})

describe('settings that cannot be used', () => {
  it('a unit of another kind is named with those that fit', () => {
    const site = siteOf([boardOf('b', [signalOf('tank-level', { decode: 'number', topic: 'x', unit: 'psi' })])])
    expect(() => createDecoder([site])).toThrow(/signal tank-level: found unit "psi", expected one of m, mm, cm/)
  })

  it('a pointer that is none is named', () => {
    const site = siteOf([boardOf('b', [json('humidity', 'rh')])])
    expect(() => createDecoder([site])).toThrow(/signal humidity: found pointer "rh", expected an RFC 6901 pointer/)
  })
})
