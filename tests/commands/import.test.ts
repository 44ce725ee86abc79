import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { exampleFile } from '../support/example-config.js'
import { readCsv } from '../support/read-csv.js'
import { capture, folder, lines, verb } from './support.js'

describe('import and recompute of two days', () => {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-import-'))
  const input = join(path, 'days.ndjson')
  const replayed = join(path, 'replayed')
  const fresh = (name: string) => exampleFile(join(path, name), 'juniper')
  const exported = async (config: string, what: string) => {
    const { code, out, err } = await verb(['export', '--config', config, '--what', what])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    return out
  }
  const replayFile = (name: string) => readFileSync(join(replayed, name), 'utf8')

  beforeAll(async () => {
    await capture(input, 2, ['level-stuck:middle@1d10h+4h'])
    const { code } = await verb(['replay', '--config', fresh('for-replay'), '--in', input, '--out', replayed])
    expect(code).toBe(0)
  })
  afterAll(() => rmSync(path, { recursive: true, force: true }))

  it('gives the cycles and days that replay gives, then again after recompute', async () => {
    const config = fresh('whole')
    expect((await verb(['import', '--config', config, '--in', input])).code).toBe(0)
    expect(readCsv(await exported(config, 'cycles')).length).toBeGreaterThan(1)
    expect(await exported(config, 'cycles')).toBe(replayFile('cycles.csv'))
    expect(await exported(config, 'days')).toBe(replayFile('days.csv'))
    const { code, out } = await verb(['recompute', '--config', config])
    expect(code).toBe(0)
    expect(out).toMatch(/^juniper: \d+ fills, \d+ days\n$/)
    expect(await exported(config, 'cycles')).toBe(replayFile('cycles.csv'))
    expect(await exported(config, 'days')).toBe(replayFile('days.csv'))
  })

  it('recompute from the second day on leaves the first and gives the same', async () => {
    const config = fresh('partly')
    await verb(['import', '--config', config, '--in', input])
    const { code } = await verb(['recompute', '--config', config, '--from', '2026-05-05T12:00:00Z'])
    expect(code).toBe(0)
    expect(await exported(config, 'cycles')).toBe(replayFile('cycles.csv'))
    expect(await exported(config, 'days')).toBe(replayFile('days.csv'))
  })

  it('imported twice is imported once: the second finds nothing new', async () => {
    const config = fresh('twice')
    const first = await verb(['import', '--config', config, '--in', input])
    const samples = await exported(config, 'samples')
    const again = await verb(['import', '--config', config, '--in', input])
    expect(first.out).toMatch(/days\.ndjson: [1-9]\d{4,} new samples/)
    expect(again.out).toContain('days.ndjson: 0 new samples')
    expect(await exported(config, 'samples')).toBe(samples)
    expect(await exported(config, 'cycles')).toBe(replayFile('cycles.csv'))
    expect(await exported(config, 'days')).toBe(replayFile('days.csv'))
  })

  it('imported in two pieces, the later one first and packed, ends in the same cycles and days', async () => {
    const config = fresh('pieces')
    const all = lines(readFileSync(input, 'utf8'))
    const half = Math.floor(all.length * 0.6)
    writeFileSync(join(path, 'early.ndjson'), `${all.slice(0, half).join('\n')}\n`)
    writeFileSync(join(path, 'late.ndjson.gz'), gzipSync(`${all.slice(half).join('\n')}\n`))
    expect((await verb(['import', '--config', config, '--in', join(path, 'late.ndjson.gz')])).code).toBe(0)
    expect((await verb(['import', '--config', config, '--in', join(path, 'early.ndjson')])).code).toBe(0)
    expect(await exported(config, 'cycles')).toBe(replayFile('cycles.csv'))
    expect(await exported(config, 'days')).toBe(replayFile('days.csv'))
  })

  it('what was exported as CSV can be imported elsewhere, sample for sample', async () => {
    const config = fresh('source')
    await verb(['import', '--config', config, '--in', input])
    const samples = await exported(config, 'samples')
    const file = join(path, 'samples.csv')
    writeFileSync(file, samples)
    const target = fresh('target')
    const { code, out } = await verb(['import', '--config', target, '--in', file])
    expect(code).toBe(0)
    expect(out).toContain(`samples.csv: ${lines(samples).length - 1} new samples`)
    expect(await exported(target, 'samples')).toBe(samples)
    expect(await exported(target, 'cycles')).toBe(replayFile('cycles.csv'))
  })
})

describe('import of CSV', () => {
  const csv = async (rows: readonly string[]) => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    const file = join(path, 'rows.csv')
    writeFileSync(file, `time,name,value,unit\n${rows.join('\n')}\n`)
    const said = await verb(['import', '--config', config, '--in', file])
    const { out } = await verb(['export', '--config', config, '--what', 'samples', '--format', 'csv'])
    return { said, file, samples: readCsv(out === '' ? 'time,name,value,unit\r\n' : out) }
  }

  it('converts units as it should, and refuses what cannot be, counted', async () => {
    const { said, samples } = await csv([
      '2026-05-06T06:00:00Z,tank-level,100,cm',
      '2026-05-06T06:00:15Z,air-temperature,50,degF',
      '2026-05-06T06:00:30+02:00,battery-voltage,26.5,V',
      '2026-05-06T06:01:00Z,battery-voltage,9000,V',
    ])
    expect(said.code).toBe(0)
    expect(said.out).toContain('3 new samples')
    expect(said.out).toContain('1 refused so far as out-of-range')
    // 50 °F is 10 °C exactly (NIST SP 811, B.8: t/°C = (t/°F − 32)/1.8).
    expect(samples.map(({ time, name, value, unit }) => [time, name, Number(value), unit])).toEqual([
      ['2026-05-06T04:00:30Z', 'battery-voltage', 26.5, 'V'],
      ['2026-05-06T06:00:00Z', 'tank-level', 1, 'm'],
      ['2026-05-06T06:00:15Z', 'air-temperature', expect.closeTo(10, 9), 'Cel'],
    ])
  })

  it.each([
    ['a time that is none', 'noon,tank-level,1,m', 'time "noon"'],
    ['a name that the site has not', '2026-05-06T06:00:00Z,tank-height,1,m', 'name "tank-height"'],
    ['a unit that does not fit', '2026-05-06T06:00:00Z,tank-level,1,V', 'unit "V"'],
    ['a value that is none', '2026-05-06T06:00:00Z,tank-level,high,m', 'value "high"'],
    ['a value that is missing', '2026-05-06T06:00:00Z,tank-level,,m', 'value ""'],
  ])('stops at %s and names file and line; nothing of the file is kept', async (_what, row, words) => {
    const { said, file, samples } = await csv(['2026-05-06T05:00:00Z,tank-level,1,m', row])
    expect(said.code).toBe(1)
    expect(said.err).toContain(`${file}:3: ${words}`)
    expect(samples).toEqual([])
  })

  it('wants its header', async () => {
    const path = folder()
    const file = join(path, 'rows.csv')
    writeFileSync(file, '2026-05-06T06:00:00Z,tank-level,1,m\n')
    const { code, err } = await verb(['import', '--config', exampleFile(path, 'juniper'), '--in', file])
    expect(code).toBe(1)
    expect(err).toContain(`${file}:1:`)
    expect(err).toContain('time,name,value,unit')
  })
})
