import { execFileSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Aedes, type AedesOptions } from 'aedes'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { needs } from '../support/needs.js'
import { client, connected, drivenTimers, type Embedded, embedded, until } from './support.js'

const OWN = 'water/juniper/tank-board'

/** A broker whose current self the test can reach, to break it. */
function breakable() {
  const made: Aedes[] = []
  const makeBroker = async (options: AedesOptions): Promise<Aedes> => {
    const broker = await Aedes.createBroker(options)
    made.push(broker)
    return broker
  }
  return { made, makeBroker }
}

async function probes(broker: Embedded, tick: () => void, count: number): Promise<void> {
  for (let i = 0; i < count; i++) {
    const before = JSON.stringify([broker.stats().misses, broker.stats().provedAt, broker.stats().restarts])
    tick()
    await until(
      () => JSON.stringify([broker.stats().misses, broker.stats().provedAt, broker.stats().restarts]) !== before,
      `probe ${i + 1}`,
    )
  }
}

describe('listening to itself', () => {
  test('a sound broker is proved at each probe, and the probe is neither counted nor handed to ingest', async () => {
    const { timers, tick } = drivenTimers(LIMITS.selfProbeMs)
    let at = 1
    const broker = await embedded({ timers }, () => at++)
    await probes(broker, tick, 2)
    expect(broker.stats()).toMatchObject({ misses: 0, restarts: 0, received: 0, connected: 0 })
    expect(broker.stats().provedAt).toBeGreaterThan(0)
  })

  test.each([
    [
      'never answers the hook',
      (broker: Aedes) => {
        broker.authorizePublish = () => {}
      },
    ],
    [
      'acknowledges without asking the hook',
      (broker: Aedes) => {
        broker.authorizePublish = (_client, _packet, done) => done(null)
      },
    ],
    [
      'lets nobody in',
      (broker: Aedes) => {
        broker.authenticate = () => {}
      },
    ],
  ])('a broker that %s is noticed after three misses, made anew on the same port, and works', async (_what, harm) => {
    const { timers, tick } = drivenTimers(LIMITS.selfProbeMs)
    const { made, makeBroker } = breakable()
    const broker = await embedded({ timers, makeBroker, limits: { publishDeadlineMs: 150 } })
    await broker.publish('water/juniper/alarms', 'tank low', { retain: true })
    for (const one of made) harm(one)
    await probes(broker, tick, LIMITS.selfProbeMissesMax)
    await until(() => broker.events.some((event) => event.kind === 'restarted'))
    expect(broker.events).toMatchObject([{ kind: 'restarted', worked: true }])
    expect(made).toHaveLength(2)
    await probes(broker, tick, 1)
    expect(broker.stats()).toMatchObject({ restarts: 1, misses: 0 })
    const board = await connected(client(broker.port))
    await board.publishAsync(OWN, 'x', { qos: 1 })
    expect(broker.stats().settled).toBe(1)
    // What we had retained is there again.
    const reader = client(broker.port, { username: 'ops' })
    const heard: string[] = []
    reader.on('message', (_topic, payload) => heard.push(payload.toString()))
    await connected(reader)
    await reader.subscribeAsync('water/#', { qos: 1 })
    await until(() => heard.length === 1)
    expect(heard).toEqual(['tank low'])
  })

  test('one miss alone makes nothing anew', async () => {
    const { timers, tick } = drivenTimers(LIMITS.selfProbeMs)
    const { made, makeBroker } = breakable()
    const broker = await embedded({ timers, makeBroker, limits: { publishDeadlineMs: 150 } })
    const sound = made[0]?.authorizePublish
    if (made[0] === undefined || sound === undefined) throw new Error('no broker was made')
    made[0].authorizePublish = () => {}
    await probes(broker, tick, LIMITS.selfProbeMissesMax - 1)
    made[0].authorizePublish = sound
    await probes(broker, tick, 1)
    expect(broker.stats()).toMatchObject({ misses: 0, restarts: 0 })
    expect(made).toHaveLength(1)
  })

  test('a broker that cannot be made anew is tried again at the next probe', async () => {
    const { timers, tick } = drivenTimers(LIMITS.selfProbeMs)
    const { made, makeBroker } = breakable()
    let fail = false
    const broker = await embedded({
      timers,
      makeBroker: (options) => (fail ? Promise.reject(new Error('out of memory')) : makeBroker(options)),
      limits: { publishDeadlineMs: 150, selfProbeMissesMax: 1 },
    })
    for (const one of made) one.authorizePublish = () => {}
    fail = true
    tick()
    await until(() => broker.events.length === 1)
    expect(broker.events).toMatchObject([{ kind: 'restarted', worked: false, why: 'out of memory' }])
    fail = false
    await until(() => {
      tick()
      return broker.events.length === 2
    })
    expect(broker.events[1]).toMatchObject({ kind: 'restarted', worked: true })
    await connected(client(broker.port))
  })
})

test('a port that is taken is an error that names host and port', async () => {
  const other = createServer().listen(0, '127.0.0.1')
  await new Promise((resolve) => other.once('listening', resolve))
  const address = other.address()
  const port = typeof address === 'object' && address !== null ? address.port : 0
  const settings = { kind: 'embedded', host: '127.0.0.1', port, tls: null, anonymous: false } as const
  await expect(embedded({ settings })).rejects.toThrow(`cannot listen on 127.0.0.1:${port}`)
  other.close()
})

const openssl = needs('openssl')
describe.skipIf(openssl === null)('over TLS', () => {
  let folder: string
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'tls-'))
    const files = ['-keyout', join(folder, 'key.pem'), '-out', join(folder, 'cert.pem')]
    const kind = ['-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2']
    execFileSync(openssl ?? '', ['req', ...kind, '-subj', '/CN=localhost', ...files], { stdio: 'ignore' })
  })
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  const settings = (port: number | null) =>
    ({
      kind: 'embedded',
      host: '127.0.0.1',
      port: 0,
      tls: { keyFile: join(folder, 'key.pem'), certFile: join(folder, 'cert.pem'), port },
      anonymous: false,
    }) as const

  test('boards are served on TCP and TLS side by side, and both are probed', async () => {
    const { timers, tick } = drivenTimers(LIMITS.selfProbeMs)
    const broker = await embedded({ settings: settings(0), timers })
    const ports = [...broker.address().matchAll(/:(\d+)/g)].map((found) => Number(found[1]))
    expect(ports).toHaveLength(2)
    const plain = await connected(client(ports[0] ?? 0))
    await plain.publishAsync(OWN, 'x', { qos: 1 })
    const secure = await connected(
      client(ports[1] ?? 0, { protocol: 'mqtts', rejectUnauthorized: false, clientId: 'secure' }),
    )
    await secure.publishAsync(OWN, Buffer.alloc(100_000, 'x'), { qos: 1 })
    expect(broker.stats()).toMatchObject({ settled: 2, connected: 2 })
    await probes(broker, tick, 1)
    expect(broker.stats().misses).toBe(0)
  })

  test('TLS without a port of its own takes the place of TCP', async () => {
    const broker = await embedded({ settings: settings(null) })
    await connected(client(broker.port, { protocol: 'mqtts', rejectUnauthorized: false }))
    await expect(connected(client(broker.port))).rejects.toThrow()
  })

  test('a key file that is missing is an error that names the setting', async () => {
    const broken = { ...settings(0), tls: { keyFile: join(folder, 'none.pem'), certFile: 'x', port: 0 } }
    await expect(embedded({ settings: broken })).rejects.toThrow(/tls\.key_file.*none\.pem/)
  })
})
