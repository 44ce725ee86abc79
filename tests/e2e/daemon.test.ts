import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import mqtt from 'mqtt'
import { beforeAll, describe, expect, it } from 'vitest'
import { openStore } from '../../src/record/store.js'
import { example, exampleFile, type Tree, writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'
import { otherBroker } from '../support/mosquitto.js'
import { needs } from '../support/needs.js'
import { TestBoard } from './board.js'
import { countStored } from './load.js'
import { ask, ensureBuilt, folder, pause, startDaemonProgram, startProgram, until } from './support.js'

const STOP_MS_MAX = 5_000

beforeAll(ensureBuilt)

/** Juniper Bench on free loopback ports. */
async function juniper(path: string, sections: Tree = {}): Promise<{ config: string; url: string }> {
  const port = await freePort()
  const config = exampleFile(path, 'juniper', {
    broker: { embedded: { host: '127.0.0.1', port, anonymous: true } },
    page: { host: '127.0.0.1', port: await freePort() },
    ...sections,
  })
  return { config, url: `mqtt://127.0.0.1:${port}` }
}

function level(board: TestBoard, value: number, t = Date.now()): void {
  board.offer([{ key: 'tank-level', t, value }], 'm')
}

describe('the daemon as a process', () => {
  it('takes a reading, shows it, writes it down, and exports it beside the running daemon', async () => {
    const path = folder()
    const { config, url } = await juniper(path)
    const captured = join(path, 'captured.ndjson')
    const daemon = startDaemonProgram(config, ['--capture', captured])
    const { page, broker } = await daemon.listening
    expect(broker).toBe(url)
    const board = new TestBoard({ url, topic: 'water/juniper/tank-board', clientId: 'tank-board' })
    const t = Date.now()
    level(board, 0.953, t)
    await until(
      () => board.messagesAcknowledged,
      (count) => count === 1,
      10_000,
      'the acknowledgement',
    )
    const shown = await ask(`${page}api/now`)
    expect(shown.status).toBe(200)
    expect(shown.body).toMatchObject({
      site: { id: 'juniper' },
      latest: expect.arrayContaining([
        expect.objectContaining({ key: 'tank-level', value: 0.953, at: new Date(t).toISOString() }),
      ]),
    })
    expect((await ask(page)).body).toContain('<!doctype html>')
    expect(await ask(`${page}health`)).toMatchObject({ status: 200, body: { status: 'working' } })
    const exported = startProgram(['export', '--config', config, '--what', 'samples'])
    expect(await exported.exited).toEqual({ code: 0, signal: null })
    expect(exported.out.map((line) => line.trimEnd())).toEqual([
      'time,name,value,unit',
      `${new Date(t).toISOString()},tank-level,0.953,m`,
    ])
    const copied = startProgram(['backup', '--config', config, '--out', join(path, 'copy.db')])
    expect(await copied.exited).toEqual({ code: 0, signal: null })
    expect(countStored(join(path, 'copy.db'), 'juniper')).toBe(1)
    const second = startDaemonProgram(config)
    expect(await second.exited).toEqual({ code: 1, signal: null })
    expect(second.log.filter((line) => line.level === 'text').map((line) => line.msg)).toEqual([
      expect.stringContaining('another process has the store open'),
    ])
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })
    const [line] = readFileSync(captured, 'utf8').split('\n')
    expect(JSON.parse(line ?? '')).toEqual({
      at: expect.closeTo(t / 1000, -1),
      topic: 'water/juniper/tank-board',
      payload: JSON.stringify([{ n: 'tank-level', u: 'm', t: t / 1000, v: 0.953 }]),
    })
  })

  it('asked to stop with five pages that listen, ends within 5 s with 0 and leaves a store that is closed', async () => {
    const path = folder()
    const { config, url } = await juniper(path)
    const daemon = startDaemonProgram(config)
    const { page } = await daemon.listening
    const board = new TestBoard({ url, topic: 'water/juniper/tank-board', clientId: 'tank-board' })
    level(board, 0.95)
    await until(
      () => board.messagesAcknowledged,
      (count) => count === 1,
      10_000,
      'the acknowledgement',
    )
    const streams = await Promise.all([0, 1, 2, 3, 4].map(() => fetch(`${page}api/events`)))
    const read = streams.map(async (response) => (await response.text()).length)
    for (const response of streams) expect(response.headers.get('content-type')).toContain('text/event-stream')
    const metrics = await ask(`${page}metrics`)
    expect(metrics.body).toMatch(/^sightglass_samples_total 1$/m)
    const asked = Date.now()
    daemon.signal('SIGTERM')
    expect(await daemon.exited).toEqual({ code: 0, signal: null })
    expect(Date.now() - asked).toBeLessThan(STOP_MS_MAX)
    // Every stream was ended, not left hanging.
    for (const length of await Promise.all(read)) expect(length).toBeGreaterThan(0)
    // A store that was closed in order has its write-ahead log folded in.
    expect(() => readFileSync(join(path, 'juniper.db-wal'))).toThrow()
    const store = openStore({ file: join(path, 'juniper.db'), now: Date.now() })
    expect(store.check()).toEqual([])
    store.close()
  })

  it('says in one line why it cannot start, and exits with 1', async () => {
    const path = folder()
    const { config } = await juniper(path)
    const first = startDaemonProgram(config)
    const { page } = await first.listening
    const other = exampleFile(join(path, 'other'), 'juniper', {
      broker: { embedded: { host: '127.0.0.1', port: await freePort(), anonymous: true } },
      page: { host: '127.0.0.1', port: Number(new URL(page).port) },
    })
    const second = startDaemonProgram(other)
    expect(await second.exited).toEqual({ code: 1, signal: null })
    expect(second.log.filter((line) => line.level === 'text').map((line) => line.msg)).toEqual([
      expect.stringMatching(/cannot listen on 127\.0\.0\.1.*EADDRINUSE.*page\.port/),
    ])
    expect(await ask(`${page}health`)).toMatchObject({ status: 200 })
  })
})

describe('a page that others can reach', () => {
  it('is not opened before there is an account for a person, then asks for it', async () => {
    const path = folder()
    const { config } = await juniper(path, { page: { host: '0.0.0.0', port: await freePort() } })
    const refused = startDaemonProgram(config)
    expect(await refused.exited).toEqual({ code: 1, signal: null })
    expect(refused.log.at(-1)?.msg).toContain('account add')
    const added = startProgram(['account', 'add', 'ops', '--role', 'owner', '--config', config])
    expect(await added.exited).toEqual({ code: 0, signal: null })
    const secret = /once: (\S+)$/.exec(added.out.join('\n'))?.[1] ?? ''
    const daemon = startDaemonProgram(config)
    const { page } = await daemon.listening
    const local = page.replace('0.0.0.0', '127.0.0.1')
    expect((await ask(`${local}api/now`)).status).toBe(401)
    expect((await ask(`${local}health`)).status).toBe(200)
    const basic = (name: string, word: string) => ({
      headers: { authorization: `Basic ${Buffer.from(`${name}:${word}`).toString('base64')}` },
    })
    expect((await ask(`${local}api/now`, basic('ops', 'wrong'))).status).toBe(401)
    expect((await ask(`${local}api/now`, basic('ops', secret))).status).toBe(200)
  })
})

describe('two sites in one daemon, whose boards have the same names', () => {
  it('lets each board publish to its own topic and to no other', async () => {
    const path = folder()
    const port = await freePort()
    for (const word of ['juniper-tank-board', 'fern-tank-board', 'ops']) {
      writeFileSync(join(path, `${word}.secret`), `secret of ${word}\n`, { mode: 0o600 })
    }
    const account = (name: string, role: string, more: Tree = {}) => ({ role, secret_file: `${name}.secret`, ...more })
    writeConfig(path, 'daemon.yaml', {
      store: { file: 'water.db' },
      broker: { embedded: { host: '127.0.0.1', port } },
      page: { host: '127.0.0.1', port: await freePort(), open_on_loopback: false },
      accounts: {
        'juniper-tank-board': account('juniper-tank-board', 'board', { site: 'juniper' }),
        'fern-tank-board': account('fern-tank-board', 'board', { site: 'fern' }),
        ops: account('ops', 'owner'),
      },
    })
    for (const site of ['juniper', 'fern'] as const) {
      const { store: _store, broker: _broker, page: _page, tell: _tell, ...tree } = example(site)
      writeConfig(path, `${site}.yaml`, tree)
    }
    const daemon = startDaemonProgram(path)
    const { page } = await daemon.listening
    const url = `mqtt://127.0.0.1:${port}`
    const asBoard = (name: string, topic: string) =>
      new TestBoard({ url, topic, clientId: `${name} to ${topic}`, username: name, password: `secret of ${name}` })
    const own = asBoard('juniper-tank-board', 'water/juniper/tank-board')
    const fern = asBoard('fern-tank-board', 'water/fern/tank-board')
    level(own, 0.95)
    fern.offer([{ key: 'tank-probe-low', t: Date.now(), value: 1 }], '/')
    await until(
      () => [own.messagesAcknowledged, fern.messagesAcknowledged],
      (counts) => counts.every((count) => count === 1),
      10_000,
      'each board to be heard on its own topic',
    )
    const stranger = asBoard('fern-tank-board', 'water/juniper/tank-board')
    level(stranger, 0.2)
    await until(
      () => stranger.connections,
      (count) => count >= 2,
      10_000,
      'the stranger to be sent away',
    )
    expect(stranger.messagesAcknowledged).toBe(0)
    await stranger.end()
    await expect(
      mqtt.connectAsync(url, { clientId: 'nobody', reconnectPeriod: 0, connectTimeout: 3_000 }, false),
    ).rejects.toThrow(/[Nn]ot authorized/)
    const basic = { headers: { authorization: `Basic ${Buffer.from('ops:secret of ops').toString('base64')}` } }
    expect((await ask(`${page}api/now?site=juniper`)).status).toBe(401)
    const now = await ask(`${page}api/now?site=juniper`, basic)
    expect(now.body).toMatchObject({
      sites: [{ id: 'fern' }, { id: 'juniper' }],
      latest: expect.arrayContaining([expect.objectContaining({ key: 'tank-level', value: 0.95 })]),
    })
    daemon.signal('SIGTERM')
    expect((await daemon.exited).code).toBe(0)
    expect(countStored(join(path, 'water.db'), 'juniper')).toBe(1)
  })
})

const mosquitto = needs('mosquitto')

describe.skipIf(mosquitto === null)('a daemon whose other broker goes away (needs mosquitto)', () => {
  it('says so at /health within seconds, and is well again when the broker is back', { timeout: 60_000 }, async () => {
    const path = folder()
    const broker = await otherBroker(mosquitto ?? '')
    const { config } = await juniper(path, {
      broker: { external: { url: `mqtt://127.0.0.1:${broker.port}`, client_id: 'sightglass-juniper' } },
    })
    const daemon = startDaemonProgram(config)
    const { page } = await daemon.listening
    const status = async () => (await ask(`${page}health`)).status
    await until(status, (found) => found === 200, 10_000, 'health')
    await broker.signal('SIGKILL')
    await until(status, (found) => found === 503, 10_000, 'the missing broker to be noticed')
    expect((await ask(`${page}health`)).body).toMatchObject({
      checks: expect.arrayContaining([expect.objectContaining({ name: 'receive', ok: false })]),
    })
    await pause(500)
    await broker.start()
    await until(status, (found) => found === 200, 30_000, 'health again')
    expect(daemon.running()).toBe(true)
  })
})
