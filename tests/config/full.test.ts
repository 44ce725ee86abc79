/** Every key of the contract's section 2 at once, and the defaults where a file says next to nothing. */
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { formatFinding, loadConfig } from '../../src/config/index.js'
import { createDecoder } from '../../src/decode/decoder.js'
import { folderOf, load, settingsOf, siteOf } from './support.js'

const FULL = `
site:     { id: ridge, name: "Ridge", timezone: Europe/Berlin, latitude: 47.5, longitude: "11 deg", elevation: "2000 ft" }
units:    si
store:    { file: kept/water.db, keep_samples: "30 d" }
broker:
  external: { url: "mqtts://broker.example.org", username: u, password_file: secrets/broker, client_id: c, ca_file: ca.pem }
page:     { host: 192.168.1.5, port: 8443, tls: { key_file: secrets/page.key, cert_file: page.crt }, open_on_loopback: false }
accounts:
  ana: { role: owner, secret_file: secrets/ana }
  tank-board: { role: board, secret_file: secrets/tank-board, site: ridge }
boards:
  tank-board:
    topic: field/tank
    expect_every: "1 min"
    signals:
      tank-level: { name: "level", low: "0 in", high: "80 in", accuracy: "0.5 in", sentinels: [-1, 9999] }
      air-temperature: "urn:dev:mac:0024befffe804ff1:air"
      line-temperature.kitchen: { name: k }
      pump-current: { topic: field/amps, decode: number, scale: 0.0049, offset: -2.5 }
      battery-voltage: { topic: field/volts, decode: json, pointer: /bat/0/v~1x, unit: mV }
      pump-voltage: { topic: field/raw, decode: number, table: [[0, "0 V"], [4000, "40 V"]] }
      house-pressure: { topic: field/press, decode: number, unit: psi, table: [[4, 0], [20, 100]] }
      tank-probe-full: { topic: field/float, decode: number, true_when: [0, "low"] }
      tank-probe-low: { topic: field/float2, decode: number, true_when: wet }
tank:
  shape: { table: [["0 m", "0 l"], ["1 m", "900 l"], ["2 m", "2000 l"]] }
  low_mark: "1.2 m"
  high_mark: "1.4 m"
  full: "1.9 m"
  reserve: "60 gal"
well:     { lift: "180 ft", rest_after_dry: "20 min" }
pump:     { nominal_voltage: "24 V", running_current: "4.5 A", longest_fill: "90 min" }
battery:  { chemistry: gel, nominal_voltage: "24 V", capacity: "160 Ah" }
array:    { rated: "0.44 kW", tilt: "45 deg", azimuth: "180 deg" }
lines:
  - { name: "tank outlet", kind: boxed, inside_diameter: "1 in", depth: "0 m", insulation: "2 cm", temperature_role: line-temperature.kitchen }
  - { name: bare }
water:    { people: 2, daily_need: "70 gal" }
away:     { default: away, calendar: [["2026-12-20", "2026-12-31"], ["2026-03-01 10:00", "2026-03-02 18:30"]] }
season:   { winterized: true }
alarms:
  fill-long: { enabled: true, priority: medium, on_delay: "60 s", off_delay: "2 min", factor: 2.5, extra: "12 min" }
tell:
  people:
    - { name: ops, ways: [mail-1, text-1], quiet: "22:00-07:00", least: low }
    - { name: neighbour, ways: [hook-1, push-1, mqtt-1] }
  ways:
    mail-1: { kind: email, smtp: { host: mail.example.org, port: 2525, secure: false, username: u, password_file: secrets/mail }, from: "A <a@example.org>", to: b@example.org }
    text-1: { kind: email, smtp: { host: mail.example.org }, from: a@example.org, to: 555@example.org, short: true }
    hook-1: { kind: webhook, url: "https://example.org/x", secret_file: secrets/hook }
    push-1: { kind: web-push }
    mqtt-1: { kind: mqtt, topic: told }
  escalate: { after: "20 min", to: [neighbour] }
  digest: { at: "07:30", to: [ops] }
  self_test: never
uplink:   { url: "mqtts://town.example.org", username: r, password_file: secrets/uplink }
beat:     { every: "10 min", url: "https://beat.example.org/r", secret_file: secrets/beat }
`

const SECRETS = ['broker', 'page.key', 'ana', 'tank-board', 'mail', 'hook', 'uplink', 'beat']

function fullFolder(): string {
  const secrets = Object.fromEntries(SECRETS.map((name) => [`secrets/${name}`, `secret of ${name}\n`]))
  return folderOf({ 'site.yaml': FULL, 'ca.pem': 'x', 'page.crt': 'x', ...secrets })
}

describe('a file that uses every key', () => {
  const folder = fullFolder()
  const loaded = loadConfig(join(folder, 'site.yaml'))
  const settings = settingsOf(loaded)
  const site = siteOf(loaded)

  it('loads without an error or a warning', () => {
    expect(loaded.warnings).toEqual([])
  })

  it('reads secrets from their files, without the line end, relative to its own folder', () => {
    expect(settings.broker).toMatchObject({
      kind: 'external',
      password: 'secret of broker',
      clientId: 'c',
      username: 'u',
    })
    expect(settings.broker).toMatchObject({ caFile: join(folder, 'ca.pem') })
    expect(settings.beat).toEqual({ everyS: 600, url: 'https://beat.example.org/r', secret: 'secret of beat' })
    expect(settings.uplink).toMatchObject({
      password: 'secret of uplink',
      clientId: 'sightglass-uplink',
      everyS: 300,
      monthBytes: 10e6,
    })
    expect(settings.accounts).toEqual([
      { name: 'ana', role: 'owner', password: 'secret of ana', site: null },
      { name: 'tank-board', role: 'board', password: 'secret of tank-board', site: 'ridge' },
    ])
  })

  it('places files relative to its own folder', () => {
    expect(settings.store).toEqual({ file: join(folder, 'kept/water.db'), keepSamplesDays: 30 })
    expect(settings.page.tls).toEqual({
      keyFile: join(folder, 'secrets/page.key'),
      certFile: join(folder, 'page.crt'),
      port: null,
    })
  })

  it('turns quantities into SI', () => {
    expect(site).toMatchObject({
      latitudeDeg: 47.5,
      longitudeDeg: 11,
      elevationM: 609.6,
      well: { liftM: 54.864, restAfterDryS: 1200 },
      pump: { nominalVoltageV: 24, runningCurrentA: 4.5, longestFillS: 5400 },
      array: { ratedW: 440, tiltDeg: 45, azimuthDeg: 180 },
      water: { people: 2, dailyNeedL: 264.97882488 },
      season: { winterized: true },
    })
    expect(site.tank?.reserveL).toBe(227.12470704)
    expect(site.lines[0]).toEqual({
      name: 'tank outlet',
      kind: 'boxed',
      insideDiameterM: 0.0254,
      depthM: 0,
      insulationM: 0.02,
      temperatureKey: 'line-temperature.kitchen',
    })
    expect(site.lines[1]).toMatchObject({ kind: 'exposed', temperatureKey: null })
  })

  it('gives signals their limits, calibration and words', () => {
    const signals = Object.fromEntries(site.boards[0]?.signals.map((signal) => [signal.key, signal]) ?? [])
    expect(signals['tank-level']).toMatchObject({ name: 'level', low: 0, high: 2.032, sentinels: [-1, 9999] })
    // A ± of a data sheet is the half-width of a rectangular distribution: u = a/√3 (GUM, JCGM 100:2008, 4.3.7).
    expect(signals['tank-level']?.sd).toBeCloseTo(0.0127 / Math.sqrt(3), 12)
    expect(signals['air-temperature']?.name).toBe('urn:dev:mac:0024befffe804ff1:air')
    expect(signals['line-temperature.kitchen']).toMatchObject({ role: 'line-temperature', name: 'k' })
    expect(signals['pump-current']).toMatchObject({
      decode: 'number',
      scale: 0.0049,
      offset: -2.5,
      topic: 'field/amps',
    })
    expect(signals['battery-voltage']).toMatchObject({ decode: 'json', pointer: '/bat/0/v~1x', unit: 'mV' })
    expect(signals['pump-voltage']).toMatchObject({
      table: [
        [0, 0],
        [4000, 40],
      ],
      unit: null,
    })
    expect(signals['house-pressure']?.table?.[1]?.[1]).toBeCloseTo(689_475.7293168, 6)
    expect(signals['house-pressure']?.unit).toBeNull()
    expect(signals['tank-probe-full']?.trueWhen).toEqual([0, 'low'])
    expect(signals['tank-probe-low']?.trueWhen).toEqual(['wet'])
  })

  it('is taken by the decoder as it stands', () => {
    const decoder = createDecoder(settings.sites)
    const sample = (topic: string, payload: string): number | undefined =>
      decoder.decode({ at: 1_764_000_000_000, topic, payload: new TextEncoder().encode(payload), retain: false })[0]
        ?.samples[0]?.value
    expect(sample('field/tank', '[{"n":"level","u":"m","v":1.25}]')).toBe(1.25)
    expect(sample('field/volts', '{"bat":[{"v/x":25300}]}')).toBeCloseTo(25.3, 9)
    expect(sample('field/amps', '1024')).toBeCloseTo(1024 * 0.0049 - 2.5, 9)
    // Half-way between 4 and 20 is 50 psi.
    expect(sample('field/press', '12')).toBeCloseTo(50 * 6894.757293168, 3)
    expect(sample('field/float', '0')).toBe(1)
    expect(sample('field/float2', 'dry')).toBe(0)
  })

  it('reads the calendar in the time of the site, the last day whole, in order', () => {
    expect(site.away.usual).toBe('away')
    expect(site.away.calendar.map((span) => span.map((ms) => new Date(ms).toISOString()))).toEqual([
      ['2026-03-01T09:00:00.000Z', '2026-03-02T17:30:00.000Z'],
      ['2026-12-19T23:00:00.000Z', '2026-12-31T23:00:00.000Z'],
    ])
  })

  it('keeps what was set for an alarm, its own numbers in SI', () => {
    expect(site.alarms).toEqual({
      'fill-long': {
        enabled: true,
        priority: 'medium',
        onDelayS: 60,
        offDelayS: 120,
        numbers: { factor: 2.5, extra: 720 },
      },
    })
  })

  it('knows who is told, how, and when not', () => {
    expect(site.tell.people).toEqual([
      { name: 'ops', ways: ['mail-1', 'text-1'], quiet: [1320, 420], least: 'low' },
      { name: 'neighbour', ways: ['hook-1', 'push-1', 'mqtt-1'], quiet: null, least: 'medium' },
    ])
    expect(site.tell.ways).toEqual([
      {
        kind: 'email',
        id: 'mail-1',
        host: 'mail.example.org',
        port: 2525,
        secure: false,
        username: 'u',
        password: 'secret of mail',
        from: 'A <a@example.org>',
        to: 'b@example.org',
        short: false,
      },
      {
        kind: 'email',
        id: 'text-1',
        host: 'mail.example.org',
        port: 465,
        secure: true,
        username: null,
        password: null,
        from: 'a@example.org',
        to: '555@example.org',
        short: true,
      },
      { kind: 'webhook', id: 'hook-1', url: 'https://example.org/x', secret: 'secret of hook' },
      { kind: 'web-push', id: 'push-1', contact: 'mailto:owner@example.org' },
      { kind: 'mqtt', id: 'mqtt-1', topic: 'told' },
    ])
    expect(site.tell.escalate).toEqual({ afterS: 1200, to: ['neighbour'] })
    expect(site.tell.digest).toEqual({ atMinute: 450, to: ['ops'] })
    expect(site.tell.selfTest).toBe('never')
  })
})

describe('a file that says next to nothing', () => {
  const loaded = load('site: { id: bare, timezone: UTC }\n')

  it('gets sensible defaults', () => {
    const { store, broker, page, accounts, uplink, beat } = settingsOf(loaded)
    expect(store.keepSamplesDays).toBe(400)
    expect(store.file).toMatch(/data[/\\]sightglass\.db$/)
    expect(broker).toEqual({ kind: 'embedded', host: '127.0.0.1', port: 1883, tls: null, anonymous: false })
    expect(page).toEqual({ host: '127.0.0.1', port: 8180, tls: null, openOnLoopback: true })
    expect([accounts, uplink, beat]).toEqual([[], null, null])
    expect(siteOf(loaded)).toMatchObject({
      name: 'bare',
      units: 'us',
      elevationM: 0,
      latitudeDeg: null,
      boards: [],
      tank: null,
      well: { liftM: null, restAfterDryS: 1800 },
      pump: { nominalVoltageV: null, runningCurrentA: null, longestFillS: 7200 },
      battery: null,
      array: null,
      lines: [],
      away: { usual: 'home', calendar: [] },
      season: { winterized: false },
      tell: { people: [], ways: [], selfTest: 'monthly' },
    })
  })

  it('is told what it will miss', () => {
    const said = loaded.warnings.map(formatFinding).join('\n')
    for (const word of ['pump-current', 'tank-level', 'battery-voltage', 'told']) expect(said).toContain(word)
  })

  it('may be JSON, which is YAML', () => {
    const json = JSON.stringify({
      site: { id: 'j', timezone: 'UTC' },
      boards: { b: { signals: { 'tank-level': 'l' } } },
    })
    expect(siteOf(load(json)).boards[0]).toMatchObject({ id: 'b', topic: 'water/j/b', expectEveryS: 30 })
  })

  it("takes the pump's voltage from the battery where only that is given", () => {
    const site = siteOf(load('site: { id: x, timezone: UTC }\nbattery: { chemistry: agm, nominal_voltage: "12 V" }\n'))
    expect(site.pump.nominalVoltageV).toBe(12)
  })
})
