/** Whether the check of the sensors tells right from wrong, and writes lines that the configuration takes. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import type { SignalBody, SignalsBody } from '../../src/show/bodies/signals.js'
import { changeFor, configLines, turnedChange, zeroChange } from '../../src/show/page/config-lines.js'
import { checksOf, likelyUnits, worst } from '../../src/show/page/sensor-checks.js'
import { peopleUnit, readingOf } from '../../src/show/page/signal-kind.js'
import { loadConfig } from '../../src/config/index.js'
import { writeConfig } from '../support/example-config.js'
import { createFakeApp } from './fake-app.js'
import { JUNIPER } from './fake-site.js'

const PLACE = { tankHeightM: 1.5, nominalV: 24, pumpRunning: false }
const BOARDS: SignalsBody['boards'] = [
  { id: 'tank-board', topic: 'water/juniper/tank-board', account: 'tank-board', expect_every_s: 30 },
]

function signal(changes: Partial<SignalBody> = {}): SignalBody {
  return {
    key: 'tank-level',
    role: 'tank-level',
    board: 'tank-board',
    name: 'tank-level',
    topic: 'water/juniper/tank-board',
    decode: 'senml',
    pointer: null,
    unit: 'm',
    unit_written: null,
    unit_scale: 1,
    scale: 1,
    offset: 0,
    has_table: false,
    low: -0.1,
    high: 20,
    sd: 0.003,
    gain_sd: 0.005,
    at: '2026-02-03T21:04:50.000Z',
    value: 0.93,
    failed: false,
    lately: { minutes: 10, n: 20, min: 0.928, max: 0.934, mean: 0.931 },
    ...changes,
  }
}

const verdicts = (one: SignalBody, ageS: number | null = 10, refused = 0) =>
  Object.fromEntries(checksOf(one, BOARDS, PLACE, ageS, refused).map(({ what, verdict }) => [what, verdict]))

describe('GET /api/signals', () => {
  it('gives each signal with its settings, its last value and what came lately, and where boards connect', async () => {
    const { app } = createFakeApp()
    const body = (await app.inject('/api/signals')).json() as SignalsBody
    expect(body.broker).toEqual({ kind: 'embedded', host: '192.0.2.10', port: 1883, tls: false, anonymous: false })
    expect(body.boards.map(({ id, account }) => [id, account])).toEqual(JUNIPER.boards.map(({ id }) => [id, id]))
    const level = body.signals.find(({ key }) => key === 'tank-level')
    expect(level).toMatchObject({ board: 'tank-board', unit: 'm', low: -0.1, high: 20, sd: 0.003, failed: false })
    expect(level?.lately?.n).toBeGreaterThan(0)
    expect(body.signals.find(({ key }) => key === 'humidity')).toMatchObject({ value: null, failed: true })
    await app.close()
  })
})

describe('the check of a sensor', () => {
  it('finds a good one good', () => {
    expect(verdicts(signal())).toEqual({ Arrives: 'good', Rate: 'good', 'Unit and range': 'good' })
    expect(worst(checksOf(signal(), BOARDS, PLACE, 10, 0))).toBe('good')
  })

  it('waits for one that was never heard, and says when its records are not believed', () => {
    const silent = signal({ at: null, value: null, lately: null })
    expect(verdicts(silent, null)).toEqual({ Arrives: 'wait' })
    expect(verdicts(silent, null, 7)).toEqual({ Arrives: 'wait', 'Unit and range': 'wrong' })
  })

  it('finds silence, a failed sensor, a wrong rate, a number that never moves', () => {
    expect(verdicts(signal(), 400).Arrives).toBe('wrong')
    expect(verdicts(signal({ failed: true, value: null })).Arrives).toBe('wrong')
    expect(verdicts(signal({ lately: { minutes: 10, n: 600, min: 0.9, max: 0.95, mean: 0.93 } })).Rate).toBe('look')
    expect(verdicts(signal({ lately: { minutes: 10, n: 4, min: 0.9, max: 0.95, mean: 0.93 } })).Rate).toBe('wait')
    expect(verdicts(signal({ lately: { minutes: 10, n: 20, min: 0.93, max: 0.93, mean: 0.93 } })).Moves).toBe('look')
  })

  it('finds a wrong unit, and names the likely one', () => {
    const within = { low: -0.05, high: 1.53, because: '' }
    expect(verdicts(signal({ value: 9.3 }))['Unit and range']).toBe('wrong')
    expect(likelyUnits(signal(), 93, within)).toEqual(['cm'])
    expect(likelyUnits(signal(), 930, within)).toEqual(['mm'])
    expect(likelyUnits(signal(), 36.6, within)).toEqual(['cm', 'in'])
    const air = signal({ role: 'air-temperature', unit: 'Cel' })
    expect(likelyUnits(air, 71, { low: -45, high: 55, because: '' })).toEqual(['degF'])
    const battery = signal({ role: 'battery-voltage', unit: 'V', value: 12.8 })
    expect(verdicts(battery)['Unit and range']).toBe('wrong')
  })

  it('finds a current that is the wrong way round, and one that is not seen', () => {
    const amps = (value: number) => signal({ role: 'pump-current', key: 'pump-current', unit: 'A', sd: 0.05, value })
    expect(verdicts(amps(-4.1)).Sign).toBe('wrong')
    expect(verdicts(amps(0.02)).Sign).toBe('good')
    const running = checksOf(amps(0.02), BOARDS, { ...PLACE, pumpRunning: true }, 10, 0)
    expect(running.find(({ what }) => what === 'Sign')?.verdict).toBe('wrong')
    const still = { ...amps(0.31), lately: { minutes: 10, n: 20, min: 0.29, max: 0.33, mean: 0.31 } }
    expect(verdicts(still).Zero).toBe('look')
    expect(verdicts({ ...still, lately: { minutes: 10, n: 20, min: -0.02, max: 0.03, mean: 0.01 } }).Zero).toBe('good')
  })
})

/** As the decoder reads it: `(raw * scale + offset) * unit` (docs/configuration.md). */
function decoded(one: SignalBody, raw: number): number {
  return (raw * one.scale + one.offset) * one.unit_scale
}

describe('the lines for the configuration', () => {
  it('put every reading where the dip-stick was, whatever scale and unit stood there', () => {
    const number = (min: number, max: number) => fc.double({ min, max, noNaN: true })
    fc.assert(
      fc.property(
        fc.record({ scale: number(0.2, 5), offset: number(-3, 3), unit: fc.constantFrom(1, 0.01, 0.0254) }),
        number(0.1, 0.5),
        number(0.8, 1.4),
        number(0.8, 1.2),
        ({ scale, offset, unit }, low, high, slope) => {
          const one = signal({ scale, offset, unit_scale: unit })
          const pairs = [low, high].map((said) => ({ said, measured: said * slope + 0.02 }))
          const change = changeFor(one, pairs)
          const mended = { ...one, scale: change?.scale ?? one.scale, offset: change?.offset ?? one.offset }
          for (const { said, measured } of pairs) {
            const raw = (said / unit - offset) / scale
            expect(decoded(mended, raw)).toBeCloseTo(measured, 6)
          }
          const shifted = changeFor(one, pairs.slice(0, 1))
          const raw = (low / unit - offset) / scale
          expect(decoded({ ...one, offset: shifted?.offset ?? 0 }, raw)).toBeCloseTo(low * slope + 0.02, 6)
        },
      ),
    )
  })

  it('leave a table alone, and make one of three readings', () => {
    const pairs = [0.2, 0.7, 1.2].map((said) => ({ said, measured: said + said ** 2 / 20 }))
    expect(changeFor(signal({ has_table: true }), pairs)).toBeNull()
    expect(changeFor(signal(), pairs)?.table?.map(([raw]) => raw)).toEqual([0.2, 0.7, 1.2])
    expect(changeFor(signal(), [])).toBeNull()
  })

  it('turn a current round and make its rest 0', () => {
    const amps = signal({ role: 'battery-current', unit: 'A', scale: 2, offset: 0.5 })
    expect(turnedChange(amps)).toEqual({ scale: -2, offset: -0.5 })
    const mended = { ...amps, offset: zeroChange(amps, 0.31).offset ?? 0 }
    expect(decoded(mended, (0.31 - 0.5) / 2)).toBeCloseTo(0, 9)
  })

  it('are lines that the configuration takes', () => {
    const level = signal()
    const amps = signal({ key: 'pump-current', role: 'pump-current', board: 'pump-board', unit: 'A' })
    const changes = new Map([
      ['tank-level', { offset: -0.0312, accuracy: 0.005 }],
      ['pump-current', { table: [[0, 0] as const, [1, 1.02] as const] }],
    ])
    expect(configLines([level, amps], new Map())).toBe('')
    const text = configLines([level, amps], changes)
    const tree = parse(text) as { boards: Record<string, { signals: Record<string, object> }> }
    expect(tree.boards['tank-board']?.signals['tank-level']).toEqual({ offset: -0.0312, accuracy: '0.005 m' })
    const site = { id: 'juniper', timezone: 'America/Denver' }
    const folder = mkdtempSync(join(tmpdir(), 'sightglass-lines-'))
    const loaded = loadConfig(writeConfig(folder, 'site.yaml', { site, broker: BROKER, ...tree }))
    rmSync(folder, { recursive: true, force: true })
    if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))
    const read = loaded.settings.sites[0]?.boards.flatMap((board) => board.signals) ?? []
    expect(read.find(({ key }) => key === 'tank-level')).toMatchObject({ offset: -0.0312, scale: 1 })
    expect(read.find(({ key }) => key === 'pump-current')?.table).toEqual([
      [0, 0],
      [1, 1.02],
    ])
  })
})

const BROKER = { embedded: { host: '127.0.0.1', port: 1883, anonymous: true } }

describe('the units of people', () => {
  it('are turned into those of the role and back (NIST SP 811: inch 25.4 mm, 0 °C at 32 °F)', () => {
    const level = readingOf('tank-level', 'm')
    const air = readingOf('air-temperature', 'Cel')
    if (level === null || air === null) throw new Error('no reading')
    expect(peopleUnit(level, 'us').si).toBeCloseTo(0.0254, 9)
    const fahrenheit = peopleUnit(air, 'us')
    expect(212 * fahrenheit.si + fahrenheit.zero).toBeCloseTo(100, 9)
    expect(readingOf('tank-probe-low', '')).toBeNull()
  })
})
