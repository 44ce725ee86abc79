import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { ALARM_IDS, PRIORITIES } from '../../src/model/alarm.js'
import { exampleFile } from '../support/example-config.js'
import { readCsv } from '../support/read-csv.js'
import { capture, lines, verb } from './support.js'

/** Header lines as the contract's section 6 has them. */
const HEADERS = {
  'cycles.csv':
    'start,end,duration_s,volume_l,volume_sd_l,energy_wh,energy_sd_wh,flow_l_min,wh_per_l,current_mean_a,voltage_mean_v,voltage_min_v,end_reason,complete',
  'days.csv':
    'date,pumped_l,used_l,fills,run_s,pump_wh,wh_per_l,battery_min_v,battery_max_v,harvest_wh,air_min_c,air_max_c,covered',
  'alarms.csv': 'id,priority,raised,cleared,subject,cause,evidence',
  'told.csv': 'at,person,way,about,text',
  'refused.csv': 'reason,board,count,first,last,example',
} as const
const FILES = [...Object.keys(HEADERS), 'summary.json'].sort()

/** ISO 8601 in UTC. */
const INSTANT = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z$/

describe('replay of three days with a well that runs dry', () => {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-replay-'))
  const input = join(path, 'days.ndjson')
  const config = exampleFile(path, 'juniper')
  const first = join(path, 'first')
  let printed = ''

  const replay = (out: string, files = [input], more: string[] = []) =>
    verb(['replay', '--config', config, '--in', ...files, '--out', out, ...more])
  const table = (name: keyof typeof HEADERS) => readCsv(readFileSync(join(first, name), 'utf8'))

  beforeAll(async () => {
    await capture(input, 3, ['dry-well:middle@1d11h'], 2)
    const { code, out, err } = await replay(first)
    expect({ code, err }).toEqual({ code: 0, err: '' })
    printed = out
  })
  afterAll(() => rmSync(path, { recursive: true, force: true }))

  it('writes the files of the contract and no others, each with its header line', () => {
    expect(readdirSync(first).sort()).toEqual(FILES)
    for (const [name, header] of Object.entries(HEADERS)) {
      expect(readFileSync(join(first, name), 'utf8').split('\r\n')[0]).toBe(header)
    }
  })

  it('ends every line of a table as RFC 4180 asks, with CR LF, and gives every row all its columns', () => {
    for (const name of Object.keys(HEADERS) as (keyof typeof HEADERS)[]) {
      expect(readFileSync(join(first, name), 'utf8').endsWith('\r\n')).toBe(true)
      const width = HEADERS[name].split(',').length
      for (const row of table(name)) expect(Object.keys(row)).toHaveLength(width)
    }
  })

  it('gives times in UTC, known words for ends, and nothing for what is not known', () => {
    const cycles = table('cycles.csv')
    expect(cycles.length).toBeGreaterThan(1)
    for (const row of cycles) {
      expect(row.start).toMatch(INSTANT)
      expect(row.end).toMatch(INSTANT)
      expect(['full', 'power-lost', 'dry', 'stalled', 'manual', 'unknown']).toContain(row.end_reason)
      expect(['true', 'false']).toContain(row.complete)
      for (const [name, value] of Object.entries(row)) {
        if (!['start', 'end', 'end_reason', 'complete'].includes(name) && value !== '') {
          expect(Number.isFinite(Number(value))).toBe(true)
        }
      }
    }
    const [whole] = cycles.filter((row) => row.end_reason === 'full')
    expect(Number(whole?.volume_l)).toBeGreaterThan(100)
    expect(Number(whole?.wh_per_l)).toBeCloseTo(Number(whole?.energy_wh) / Number(whole?.volume_l), 2)
    expect(
      table('days.csv')
        .map((row) => row.date)
        .slice(0, 3),
    ).toEqual(['2026-05-04', '2026-05-05', '2026-05-06'])
  })

  it('raises the alarm of the fault, and would have told it in whole sentences', () => {
    const alarms = table('alarms.csv')
    for (const row of alarms) {
      expect(ALARM_IDS).toContain(row.id)
      expect(PRIORITIES).toContain(row.priority)
      expect(row.raised).toMatch(INSTANT)
    }
    const [dry] = alarms.filter((row) => row.id === 'dry-well')
    expect(dry?.priority).toBe('high')
    expect(dry?.evidence).toMatch(/usual/)
    const told = table('told.csv')
    const [message] = told.filter((row) => row.about?.startsWith('dry-well'))
    expect(message).toMatchObject({ person: 'owner', way: 'screen' })
    expect(message?.text).toContain('What to do')
    expect(Date.parse(message?.at ?? '')).toBeGreaterThanOrEqual(Date.parse(dry?.raised ?? ''))
  })

  it('sums up what the tables say', () => {
    const summary: unknown = JSON.parse(readFileSync(join(first, 'summary.json'), 'utf8'))
    expect(summary).toMatchObject({
      site: 'juniper',
      fills: table('cycles.csv').length,
      days: table('days.csv').length,
      alarms: table('alarms.csv').length,
      told: table('told.csv').length,
      messages: lines(readFileSync(input, 'utf8')).length,
    })
    expect(printed).toContain(`${table('cycles.csv').length} fills`)
    expect(printed).toMatch(/samples in [\d.]+ s, \d+ a second/)
  })

  it('writes the same bytes again, also from a packed capture and from one cut in two', async () => {
    const text = readFileSync(input)
    const half = text.indexOf('\n', Math.floor(text.length / 2)) + 1
    writeFileSync(join(path, 'packed.ndjson.gz'), gzipSync(text))
    writeFileSync(join(path, 'a.ndjson'), text.subarray(0, half))
    writeFileSync(join(path, 'b.ndjson.gz'), gzipSync(text.subarray(half)))
    const again = [[input], [join(path, 'packed.ndjson.gz')], [join(path, 'a.ndjson'), join(path, 'b.ndjson.gz')]]
    for (const [index, files] of again.entries()) {
      const out = join(path, `again-${index}`)
      expect((await replay(out, files)).code).toBe(0)
      for (const name of FILES) {
        expect({ index, name, same: readFileSync(join(out, name)).equals(readFileSync(join(first, name))) }).toEqual({
          index,
          name,
          same: true,
        })
      }
    }
  })

  it('prints the summary as one line of JSON when asked', async () => {
    const { code, out } = await replay(join(path, 'json'), [input], ['--json'])
    expect(code).toBe(0)
    expect(lines(out)).toHaveLength(1)
    expect(JSON.parse(out)).toMatchObject({ sites: [{ site: 'juniper' }], run_time_s: expect.any(Number) })
  })

  it('shows progress on a terminal only', async () => {
    const short = join(path, 'short.ndjson')
    writeFileSync(
      short,
      readFileSync(input)
        .subarray(0, 200_000)
        .toString('utf8')
        .replace(/[^\n]*$/, ''),
    )
    const { err } = await verb(['replay', '--config', config, '--in', short, '--out', join(path, 'tty')], {
      terminal: true,
    })
    expect(err).toContain('% ')
    expect(err).toContain('s left')
  })

  it('stopped, writes nothing, says so and exits with 1', async () => {
    const stop = new AbortController()
    stop.abort()
    const out = join(path, 'stopped')
    const said = await verb(['replay', '--config', config, '--in', input, '--out', out], { stop: stop.signal })
    expect(said.code).toBe(1)
    expect(said.err).toContain('nothing was written')
    expect(() => readdirSync(out)).toThrow()
  })

  it('names file and line of what cannot be read in a capture', async () => {
    const bad = join(path, 'bad.ndjson')
    const [one = '', two = ''] = lines(readFileSync(input, 'utf8'))
    writeFileSync(bad, `${one}\n${two}\n{"at": "noon"}\n`)
    const said = await replay(join(path, 'bad'), [bad])
    expect(said.code).toBe(1)
    expect(said.err).toContain(`${bad}:3`)
  })
})
