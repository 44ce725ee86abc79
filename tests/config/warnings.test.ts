/** What is legal but unwise is said, and what is neither is not. */
import { describe, expect, it } from 'vitest'
import { formatFinding } from '../../src/config/index.js'
import { load, quiet } from './support.js'

const said = (text: string): string[] => {
  const loaded = load(text)
  expect(loaded.ok ? [] : loaded.errors.map(formatFinding)).toEqual([])
  return loaded.warnings.map((finding) => formatFinding(finding).replace(/^.*site\.yaml:/, ''))
}

/** The quiet site with one piece of its text changed. */
const changed = (from: string, to: string): string => {
  const text = quiet()
  expect(text).toContain(from)
  return text.replace(from, to)
}

const UNWISE: readonly (readonly [string, string, RegExp])[] = [
  [
    'a high mark above full',
    changed('reserve: "300 l"', 'reserve: "300 l"\n  full: "1.1 m"'),
    /tank\.high_mark: is above full.*high_mark 1\.2 m, full 1\.1 m/,
  ],
  [
    'an overflow above the top',
    changed('reserve: "300 l"', 'reserve: "300 l"\n  full: "2.5 m"'),
    /tank\.full: is above the top.*at most 2 m/,
  ],
  ['no reserve', changed('  reserve: "300 l"\n', ''), /tank: has no reserve.*tank-low is never told/],
  [
    'a reserve above the low mark',
    changed('"300 l"', '"1.5 m3"'),
    /tank\.reserve: is reached before a fill.*less than 1000 l/,
  ],
  [
    'a longest fill shorter than a fill',
    quiet('pump: { longest_fill: "30 min" }'),
    /pump\.longest_fill: is shorter.*found 30 min; expected more than 50 min: 200 l/,
  ],
  [
    'a battery that the pump empties in an hour',
    changed(
      'nominal_voltage: "12 V" }',
      'nominal_voltage: "12 V", capacity: "20 Ah" }\npump: { running_current: "11 A" }',
    ),
    /battery\.capacity: is emptied by the pump within an hour.*usable 50 %.*lasts 55 min/,
  ],
  [
    'a pump of another voltage',
    quiet('pump: { nominal_voltage: "24 V" }'),
    /pump\.nominal_voltage: is not the battery's; found pump 24 V, battery 12 V/,
  ],
  [
    'lithium without a thermometer',
    changed('agm', 'lifepo4'),
    /battery\.chemistry: must not be charged below 0 °C.*battery-temperature/,
  ],
  [
    'a voltage without a battery',
    changed('battery: { chemistry: agm, nominal_voltage: "12 V" }', ''),
    /battery: is missing/,
  ],
  ['no current', changed('pump-current: , ', ''), /boards: have no pump-current.*every alarm about the pump/],
  ['no voltage', changed(', battery-voltage: ', ''), /boards: have no battery-voltage or pump-voltage/],
  [
    'no level',
    changed('tank-level: ', 'humidity: '),
    /boards: have no tank-level or tank-probe-low and tank-probe-high/,
  ],
  ['one probe of two', changed('tank-level: ', 'tank-probe-low: '), /boards: have no tank-level or/],
  [
    'a level without a tank',
    changed(
      'tank:\n  shape: { box: { length: "1 m", width: "1 m", height: "2 m" } }\n  low_mark: "1 m"\n  high_mark: "1.2 m"\n  reserve: "300 l"\n',
      '',
    ),
    /tank: is missing, so no level can be told as a volume/,
  ],
  [
    'a pump board that seldom speaks',
    changed('signals: {', 'expect_every: "5 min"\n    signals: {'),
    /boards\.b\.expect_every: is too slow.*found 300 s; expected at most 60 s/,
  ],
  ['a board without signals', changed('boards:', 'boards:\n  idle:'), /boards\.idle: has no signals/],
  ['an array at no place', quiet('array: { rated: "100 W" }'), /site: has an array but no place/],
  ['half a place', changed('timezone: UTC', 'timezone: UTC, latitude: 40'), /site: has only one of its coordinates/],
  ['a line that nothing measures', quiet('lines: [{ name: a }]'), /lines\.0: cannot be watched for frost; found "a"/],
  [
    'a line whose thermometer is nowhere',
    quiet('lines: [{ name: a, temperature_role: line-temperature.a }]'),
    /lines\.0\.temperature_role: names a signal that no board sends/,
  ],
  [
    'an alarm that is off',
    quiet('alarms: { leak: { enabled: false } }'),
    /alarms\.leak\.enabled: turns this alarm off for good/,
  ],
  ['nobody to tell', changed('[{ name: p, ways: [w] }]', '[]'), /tell: nobody would be told of anything/],
  [
    'a person without a way',
    changed('ways: [w] }', 'ways: [w] }, { name: q }'),
    /tell\.people\.1: has no way to be told/,
  ],
  [
    'a way that nobody uses',
    changed('topic: told }', 'topic: told }, v: { kind: web-push }'),
    /tell\.ways\.v: is used by nobody/,
  ],
  [
    'a broker open to the network',
    quiet('broker: { embedded: { host: 0.0.0.0 } }'),
    /broker\.embedded\.host: is open to the network without TLS/,
  ],
  [
    'a broker far away, unencrypted',
    quiet('broker: { external: { url: "mqtt://broker.example.org" } }'),
    /broker\.external\.url: leaves this machine without TLS; found mqtt:\/\/broker\.example\.org; expected mqtts/,
  ],
  ['a page open to the network', quiet('page: { host: "::" }'), /page\.host: is open to the network without TLS/],
  [
    'a beat in the clear',
    quiet('beat: { url: "http://beat.example.org/secret-token" }'),
    /beat\.url: leaves this machine without TLS/,
  ],
  [
    'two forms on one topic',
    changed('battery-voltage: ', 'battery-voltage: , humidity: { decode: json, pointer: /h }'),
    /boards\.b\.signals\.humidity: shares a topic/,
  ],
  ['a key left blank', quiet('well: { lift: }'), /well\.lift: has no value and counts as not written/],
]

describe('a configuration that is legal but unwise', () => {
  it.each(UNWISE)('%s is said, once', (_what, text, words) => {
    expect(said(text).filter((line) => words.test(line))).toHaveLength(1)
  })

  it('names the line', () => {
    expect(said(quiet('alarms: { leak: { enabled: false } }'))[0]).toMatch(/^14:28: alarms\.leak\.enabled/)
  })

  it('does not repeat what may be secret in an address', () => {
    expect(said(quiet('beat: { url: "http://beat.example.org/secret-token" }')).join()).not.toContain('secret-token')
  })
})

const WISE: readonly (readonly [string, string])[] = [
  ['the quiet site itself', quiet()],
  ['probes instead of a level', changed('tank-level: ', 'tank-probe-low: , tank-probe-high: ')],
  ['the pump voltage instead of the battery', changed('battery-voltage: ', 'pump-voltage: ')],
  [
    'a pump of another voltage with its own meter',
    `${changed('battery-voltage: ', 'battery-voltage: , pump-voltage: ')}pump: { nominal_voltage: "24 V" }`,
  ],
  ['a broker on this machine, unencrypted', quiet('broker: { external: { url: "mqtt://localhost:1883" } }')],
  [
    'loopback by its other names',
    quiet('page: { host: "::1" }\nbroker: { embedded: { host: 127.9.9.9, anonymous: true } }'),
  ],
  ['sections that are all remarks', quiet('alarms:\nlines:\nseason:\nwell:\naway:\nwater:\npump:\npage:\nbroker:\n')],
  ['a high mark at full', changed('reserve: "300 l"', 'reserve: "300 l"\n  full: "1.2 m"')],
]

describe('a configuration that is as it should be', () => {
  it.each(WISE)('%s draws no warning', (_what, text) => {
    expect(said(text)).toEqual([])
  })
})
