import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { example, exampleFile, type Tree, writeConfig } from '../support/example-config.js'
import { capture, folder, lines, MONDAY, verb } from './support.js'

/** A day and a half of Juniper Bench in its store: in the second afternoon a tap is left open for hours. */
async function lived(path: string, config: string): Promise<void> {
  const file = join(path, 'days.ndjson')
  await capture(file, 1.5, ['tank-low:middle@12h+4h'])
  expect((await verb(['import', '--config', config, '--in', file])).code).toBe(0)
}

function withReserve(reserve: string): Tree {
  const tree = example('juniper')
  return { ...tree, tank: { ...(tree.tank as Tree), reserve } }
}

describe('backtest', () => {
  it('lays both configurations side by side, as a table and as JSON, each time the same, and changes nothing', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    await lived(path, config)
    const bytes = readFileSync(join(path, 'juniper.db'))
    const other = writeConfig(path, 'other.yaml', withReserve('500 l'))
    const words = ['backtest', '--config', config, '--with', other]
    const said = await verb(words)
    expect(said).toMatchObject({ code: 0, err: '' })
    const [, counts = '', , head = '', row = ''] = lines(said.out).length > 4 ? said.out.split('\n') : []
    expect(counts).toMatch(/^as configured \d+ alarms?, \d+ messages?; as proposed \d+ alarms?/)
    expect(head).toMatch(/^change +alarm +priority +as configured +as proposed +by +at the time$/)
    // An import raises no alarm: nothing was said at the time.
    expect(row).toMatch(/^earlier +tank-low:tank +high +4 May 2026 .+ 4 May 2026 .+ min +-$/)
    expect(said.out).toContain('store-failing, telling-failing and clock-suspect')
    const json = await verb([...words, '--json'])
    const { sites, notInHistory } = JSON.parse(json.out) as {
      sites: { site: string; changes: object[] }[]
      notInHistory: string[]
    }
    expect(sites.map(({ site }) => site)).toEqual(['juniper'])
    expect(sites[0]?.changes[0]).toMatchObject({ change: 'earlier', key: 'tank-low:tank', stored: null })
    expect(notInHistory).toHaveLength(3)
    expect(await verb(words)).toEqual(said)
    expect(await verb([...words, '--json'])).toEqual(json)
    expect(readFileSync(join(path, 'juniper.db')).equals(bytes)).toBe(true)
  })

  it('compares every site of a folder, and says which are only in one of the two', async () => {
    const path = folder()
    const { site, boards, tank, well, pump, battery, array, lines: frozen, water } = example('juniper')
    const file: Tree = { site, boards, tank, well, pump, battery, array, lines: frozen, water }
    const fern = example('fern')
    const daemon = { store: { file: 'both.db' }, broker: { embedded: { port: 1999, anonymous: true } } }
    for (const name of ['now', 'then']) writeConfig(join(path, name), 'daemon.yaml', daemon)
    writeConfig(join(path, 'now'), 'juniper.yaml', file)
    writeConfig(join(path, 'now'), 'fern.yaml', {
      site: fern.site,
      boards: fern.boards,
      tank: fern.tank,
      battery: fern.battery,
    })
    writeConfig(join(path, 'then'), 'juniper.yaml', { ...file, alarms: { 'tank-low': { enabled: false } } })
    const config = join(path, 'now')
    const capturedIn = join(path, 'days.ndjson')
    await capture(capturedIn, 1, ['tank-low:middle@12h+4h'])
    expect(await verb(['import', '--config', config, '--in', capturedIn])).toMatchObject({ code: 0 })
    const { code, out, err } = await verb(['backtest', '--config', config, '--with', join(path, 'then')])
    expect({ code, err }).toEqual({ code: 0, err: '' })
    expect(out).toMatch(/^gone +tank-low:tank/m)
    expect(out).toContain('only in one of the two configurations, left out: fern')
  })

  it('shows how far it is on a terminal, and stops when it is asked to', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    await lived(path, config)
    const words = ['backtest', '--config', config, '--with', config]
    expect((await verb(words, { terminal: true })).err).toMatch(/\d+ % {2}juniper 2026-05-0\d/)
    const stop = new AbortController()
    stop.abort()
    const stopped = await verb(words, { stop: stop.signal })
    expect(stopped).toMatchObject({ code: 1, out: '' })
    expect(stopped.err).toContain('nothing was changed')
  })

  it('refuses words that make no sense, and makes no store', async () => {
    const path = folder()
    const config = exampleFile(path, 'juniper')
    const at = new Date(MONDAY).toISOString()
    const backwards = await verb(['backtest', '--config', config, '--with', config, '--from', at, '--to', at])
    expect(backwards).toMatchObject({ code: 2 })
    expect(backwards.err).toContain('--to')
    const stranger = await verb(['backtest', '--config', config, '--with', exampleFile(path, 'fern')])
    expect(stranger).toMatchObject({ code: 2 })
    expect(stranger.err).toContain('found fern, expected a configuration of juniper')
    expect((await verb(['backtest', '--config', config, '--with', config])).code).toBe(1)
    expect(existsSync(join(path, 'juniper.db'))).toBe(false)
  })
})
