import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { Line } from '../../src/daemon/line.js'
import { drive } from '../../src/daemon/replay.js'
import { loadConfig } from '../../src/config/load.js'
import { readCapture } from '../../src/receive/capture.js'
import { openStore, type Store } from '../../src/record/store.js'
import { exampleFile } from '../support/example-config.js'
import { readCsv } from '../support/read-csv.js'
import { capture, lines, MONDAY, verb } from './support.js'

const COLUMNS = {
  samples: 'time,name,value,unit',
  cycles:
    'start,end,duration_s,volume_l,volume_sd_l,energy_wh,energy_sd_wh,flow_l_min,wh_per_l,current_mean_a,voltage_mean_v,voltage_min_v,end_reason,complete',
  days: 'date,pumped_l,used_l,fills,run_s,pump_wh,wh_per_l,battery_min_v,battery_max_v,harvest_wh,air_min_c,air_max_c,covered',
  alarms: 'id,priority,raised,cleared,subject,cause,evidence',
  journal: 'at,by,text,new_baseline,upkeep',
} as const
const TABLES = Object.keys(COLUMNS) as readonly (keyof typeof COLUMNS)[]

describe('export beside a daemon that has the store', () => {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-export-'))
  const config = exampleFile(path, 'juniper')
  let store: Store
  const exported = async (what: string, ...more: string[]) => {
    const { code, out, err } = await verb(['export', '--config', config, '--what', what, ...more])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    return out
  }

  beforeAll(async () => {
    const file = join(path, 'days.ndjson')
    await capture(file, 2, ['dry-well:middle@1d'])
    const loaded = loadConfig(config)
    if (!loaded.ok) throw new Error('the example is not valid')
    store = openStore({ file: loaded.settings.store.file, now: MONDAY })
    const log = { debug: () => {}, info: () => {}, warn: () => {}, error: () => {} }
    const line = new Line({ sites: loaded.settings.sites, store, log, judging: true, link: () => null })
    await drive(line, readCapture(file))
    const text = 'A new pump, "size 2",\nlowered 3 m'
    store.journal.add({ site: 'juniper', at: MONDAY + 3_600_000, by: 'owner', text, newBaseline: true })
  })
  afterAll(() => {
    store.close()
    rmSync(path, { recursive: true, force: true })
  })

  it.each(TABLES)('gives %s as CSV and as JSON lines, the same rows in both', async (what) => {
    const csv = await exported(what)
    expect(csv.split('\r\n')[0]).toBe(COLUMNS[what])
    const rows = readCsv(csv)
    expect(rows.length).toBeGreaterThan(0)
    const json = lines(await exported(what, '--format', 'json')).map((line): unknown => JSON.parse(line))
    expect(json).toHaveLength(rows.length)
    const asText = json.map((row) =>
      Object.fromEntries(
        Object.entries(row as object).map(([name, value]) => [name, value === null ? '' : String(value)]),
      ),
    )
    expect(asText.map((row) => Object.keys(row).join(','))).toEqual(rows.map(() => COLUMNS[what]))
    expect(asText).toEqual(rows)
  })

  it('quotes what RFC 4180 wants quoted', async () => {
    const [entry] = readCsv(await exported('journal'))
    expect(entry).toEqual({
      at: '2026-05-04T08:00:00Z',
      by: 'owner',
      text: 'A new pump, "size 2",\nlowered 3 m',
      new_baseline: 'true',
      upkeep: '',
    })
  })

  it('gives every stored sample once, in order of time', async () => {
    const rows = readCsv(await exported('samples'))
    const times = rows.map((row) => Date.parse(row.time ?? ''))
    expect(times).toEqual([...times].sort((a, b) => a - b))
    expect(new Set(rows.map((row) => `${row.time} ${row.name}`)).size).toBe(rows.length)
    let stored = 0
    const ids = store.seriesList('juniper').map((one) => one.id)
    store.read(ids, 0, Number.MAX_SAFE_INTEGER, (_index, _t, value) => {
      if (!Number.isNaN(value)) stored += 1
    })
    expect(rows).toHaveLength(stored)
  })

  it('cuts at --from (in) and --to (out), to the millisecond', async () => {
    const all = readCsv(await exported('samples'))
    const from = '2026-05-05T10:00:00Z'
    const to = '2026-05-05T10:10:00Z'
    const some = readCsv(await exported('samples', '--from', from, '--to', to))
    expect(some.length).toBeGreaterThan(100)
    expect(some).toEqual(
      all.filter(({ time = '' }) => Date.parse(time) >= Date.parse(from) && Date.parse(time) < Date.parse(to)),
    )
  })

  it('names the sites to choose from when one is named that is not there', async () => {
    const { code, err } = await verb(['export', '--config', config, '--what', 'days', '--site', 'fern'])
    expect(code).toBe(2)
    expect(err).toContain('juniper')
  })
})
