/** The two example files that come with the program: a person copies them, the demo and many tests load them. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { formatFinding, loadConfig } from '../../src/config/index.js'
import { DAEMON_SECTIONS, SITE_SECTIONS } from '../../src/config/schema.js'
import { tankVolumeL } from '../../src/config/tank-volume.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { load, settingsOf, siteOf } from './support.js'

const fileOf = (name: string): string => new URL(`../../config/${name}.yaml`, import.meta.url).pathname
const keysOf = (site: SiteSettings): Record<string, string[]> =>
  Object.fromEntries(site.boards.map((board) => [board.id, board.signals.map((signal) => signal.key)]))

describe.each(['juniper', 'fern'])('config/%s.yaml', (name) => {
  it('loads without an error and without a warning', () => {
    const loaded = loadConfig(fileOf(name))
    expect(loaded.ok ? [] : loaded.errors.map(formatFinding)).toEqual([])
    expect(loaded.warnings.map(formatFinding)).toEqual([])
  })

  it('lets in nobody but this machine', () => {
    const { broker, page } = settingsOf(loadConfig(fileOf(name)))
    expect(broker).toMatchObject({ kind: 'embedded', host: '127.0.0.1' })
    expect(page.host).toBe('127.0.0.1')
  })

  it('calls every signal by its role on the wire', () => {
    for (const board of siteOf(loadConfig(fileOf(name))).boards) {
      expect(board.topic).toBe(`water/${name}/${board.id}`)
      for (const signal of board.signals) expect(signal.name).toBe(signal.key)
    }
  })

  it('explains every section that it sets with a remark of its own', () => {
    const blocks = readFileSync(fileOf(name), 'utf8').split(/\n(?=[a-z]+:)/)
    const unexplained = blocks.flatMap((block, index) => {
      const section = /^([a-z]+):/.exec(block)?.[1]
      if (section === undefined) return []
      const before = (blocks[index - 1] ?? '').trimEnd().split('\n').at(-1) ?? ''
      return before.startsWith('#') || /\n +#/.test(block) ? [] : [section]
    })
    expect(blocks.length).toBeGreaterThan(10)
    expect(unexplained).toEqual([])
  })
})

describe('config/juniper.yaml', () => {
  const site = siteOf(loadConfig(fileOf('juniper')))

  it('has the signals of a level sensor, a battery, an array and the pressure pump of the house', () => {
    expect(keysOf(site)).toEqual({
      'tank-board': ['tank-level', 'air-temperature', 'humidity', 'line-temperature'],
      'pump-board': [
        'pump-current',
        'battery-voltage',
        'battery-current',
        'panel-voltage',
        'panel-current',
        'battery-temperature',
      ],
      'house-board': ['house-pump-current', 'house-pressure'],
    })
  })

  it('describes a tank of 1.2 m² whose band holds about 205 l', () => {
    const { tank } = site
    expect(tank).toMatchObject({ lowMarkM: 0.9, highMarkM: 1.07, fullM: 1.7, reserveL: 400 })
    if (tank === null) return
    const band = tankVolumeL(tank.shape, tank.highMarkM) - tankVolumeL(tank.shape, tank.lowMarkM)
    expect(band).toBeCloseTo(205.3, 1)
  })

  it('has ratings that agree with the physics of its lift', () => {
    expect(site).toMatchObject({ well: { liftM: 40 }, battery: { chemistry: 'lifepo4', capacityAh: 100 } })
    // ρ·g·H·Q at 4 l/min over 40 m (g = 9.80665 m/s²), against 3 A at 25 V: a third of the power reaches the water.
    const hydraulicW = (1 * 9.80665 * 40 * 4) / 60
    expect(hydraulicW / ((site.pump.runningCurrentA ?? 0) * 25)).toBeCloseTo(0.35, 2)
  })

  it('shows every section there is, set or in a remark', () => {
    const text = readFileSync(fileOf('juniper'), 'utf8')
    for (const section of Object.keys({ ...SITE_SECTIONS, ...DAEMON_SECTIONS })) {
      expect(text).toMatch(new RegExp(`^(?:# )?${section}:`, 'm'))
    }
  })

  it('holds true what its remarks offer: each snippet may be uncommented as it stands', () => {
    const text = readFileSync(fileOf('juniper'), 'utf8')
    const board = /# old-board:\n((?: {2}# {3}.*\n)+)/.exec(text)
    const snippet = `boards:\n  old-board:\n${(board?.[1] ?? '').replaceAll(/^ {2}# {3}/gm, '    ')}`
    const boards = siteOf(load(`site: { id: x, timezone: UTC }\n${snippet}`)).boards
    expect(boards[0]?.signals.map((signal) => signal.key)).toEqual([
      'tank-level.spare',
      'air-temperature.shed',
      'tank-probe-full',
    ])
  })
})

describe('config/fern.yaml', () => {
  const site = siteOf(loadConfig(fileOf('fern')))

  it('has three probes, a current, a voltage and one temperature', () => {
    expect(keysOf(site)).toEqual({
      'tank-board': ['tank-probe-low', 'tank-probe-high', 'tank-probe-full'],
      'pump-board': ['pump-current', 'battery-voltage', 'line-temperature'],
    })
  })

  it('describes a box whose band holds 240 l', () => {
    const { tank } = site
    expect(tank).not.toBeNull()
    if (tank === null) return
    expect(tankVolumeL(tank.shape, tank.highMarkM) - tankVolumeL(tank.shape, tank.lowMarkM)).toBeCloseTo(240, 9)
    expect(tank).toMatchObject({ reserveL: 250, fullM: 1.2 })
  })

  it('can run beside the other example', () => {
    const one = settingsOf(loadConfig(fileOf('juniper')))
    const two = settingsOf(loadConfig(fileOf('fern')))
    expect(one.page.port).not.toBe(two.page.port)
    expect(one.store.file).not.toBe(two.store.file)
    expect(one.broker).not.toMatchObject({ port: two.broker.kind === 'embedded' ? two.broker.port : 0 })
  })
})
