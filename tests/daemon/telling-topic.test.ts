import mqtt from 'mqtt'
import { describe, expect, it, onTestFinished } from 'vitest'
import { createTellingTopic, tellingTopic } from '../../src/daemon/telling-topic.js'
import { LIMITS } from '../../src/model/limits.js'
import { until } from '../receive/support.js'
import { freePort } from '../support/free-port.js'
import { hookSink } from '../support/hook-sink.js'
import { otherBroker } from '../support/mosquitto.js'
import { needs } from '../support/needs.js'
import { AFTERNOON, SILENT_LOG, siteSettings } from '../tell/support.js'
import { runDaemon } from './running.js'

const SITE = { id: 'juniper', timezone: 'America/Denver' }
const mosquitto = needs('mosquitto')

/** Everything that a new reader of the topic gets, as it comes. */
async function reader(url: string, account: object = {}) {
  const got: { readonly state: string; readonly retained: boolean; readonly body: Record<string, unknown> }[] = []
  const client = await mqtt.connectAsync(url, { ...account, reconnectPeriod: 0 })
  onTestFinished(() => void client.end(true))
  client.on('message', (_topic, payload, { retain }) => {
    const body = JSON.parse(payload.toString('utf8')) as Record<string, unknown>
    got.push({ state: String(body.state), retained: retain, body })
  })
  await client.subscribeAsync(tellingTopic('juniper'), { qos: 1 })
  return got
}

const tell = (port: number) => ({
  people: [{ name: 'ops', ways: ['hook'] }],
  ways: { hook: { kind: 'webhook', url: `http://127.0.0.1:${port}/told`, secret_file: 'key' } },
  self_test: 'never',
})

describe('the telling topic', () => {
  it('of the own broker says ok, failing while nobody can be reached, and ok again; /health says the same', async () => {
    const port = await freePort()
    const running = await runDaemon(
      {
        site: SITE,
        boards: { 'tank-board': { signals: { 'tank-level': {} } } },
        page: { open_on_loopback: true },
        accounts: { ops: { role: 'owner', secret_file: 'owner' }, neighbour: { role: 'viewer', secret_file: 'owner' } },
        tell: tell(port),
      },
      {
        files: { key: 'a key of our own', owner: 'lupine' },
        broker: { embedded: { host: '127.0.0.1', port: await freePort(), anonymous: false } },
      },
    )
    const url = `mqtt://127.0.0.1:${running.port}`
    const live = await reader(url, { username: 'ops', password: 'lupine' })
    await until(() => live.at(-1)?.state === 'ok', 'ok')
    await running.daemon.teller.test('juniper')
    await until(() => live.at(-1)?.state === 'failing', 'failing')
    expect(live.at(-1)?.body).toMatchObject({
      version: 1,
      people: ['ops'],
      since: expect.stringMatching(/^20\d\d-/),
      reason: expect.stringContaining('ECONNREFUSED'),
    })
    expect(JSON.stringify(live)).not.toContain('a key of our own')
    const health = await fetch(`${running.page}health`)
    expect(health.status).toBe(503)
    expect(await health.text()).toContain('somebody cannot be reached by any way')
    const now = (await (await fetch(`${running.page}api/now`)).json()) as { ways: { error: string | null }[] }
    expect(now.ways[0]?.error).toContain('ECONNREFUSED')
    // Whoever comes later is told at once, a viewer too.
    const late = await reader(url, { username: 'neighbour', password: 'lupine' })
    await until(() => late.length > 0, 'the retained message')
    expect(late[0]).toMatchObject({ state: 'failing', retained: true })

    const hook = await hookSink(port)
    onTestFinished(() => hook.close())
    await running.daemon.teller.test('juniper')
    await until(() => live.at(-1)?.state === 'ok', 'ok again')
    expect(live.at(-1)?.body).toMatchObject({ people: [], since: null, reason: null })
    expect((await fetch(`${running.page}health`)).status).toBe(200)
  })

  it.skipIf(mosquitto === null)('of another broker is retained there (needs mosquitto)', async () => {
    const broker = await otherBroker(mosquitto ?? '')
    const url = `mqtt://127.0.0.1:${broker.port}`
    const live = await reader(url)
    const running = await runDaemon(
      { site: SITE, boards: { 'tank-board': { signals: { 'tank-level': {} } } }, tell: tell(9) },
      { files: { key: 'a key of our own' }, broker: { external: { url, client_id: 'sightglass-juniper' } } },
    )
    await until(() => live.at(-1)?.state === 'ok', 'ok')
    await running.daemon.teller.test('juniper')
    await until(() => live.at(-1)?.state === 'failing', 'failing')
    await running.daemon.stop()
    const late = await reader(url)
    await until(() => late.length > 0, 'the retained message')
    expect(late[0]).toMatchObject({ state: 'failing', retained: true })
  })

  it('is said once while nothing changes and again each 5 min; after a failure sooner, complained of once', async () => {
    const told: string[] = []
    const complaints: string[] = []
    let broken = false
    let untold: { person: string; since: number; error: string }[] = []
    const topic = createTellingTopic({
      sites: [siteSettings()],
      teller: { unreachable: () => untold, failingSince: () => untold[0]?.since ?? null },
      publish: async (_topic, payload) => {
        if (broken) throw new Error('no broker is connected')
        told.push(String((JSON.parse(payload) as { state: unknown }).state))
      },
      log: { ...SILENT_LOG, debug() {}, warn: (_fields: object, words: string) => complaints.push(words) },
    })
    const runTo = async (from: number, to: number) => {
      for (let at = from; at < to; at += 1_000) {
        topic.run(at)
        await new Promise((resolve) => setImmediate(resolve))
      }
    }
    await runTo(AFTERNOON, AFTERNOON + LIMITS.tellingTopicMs - 1_000)
    expect(told).toEqual(['ok'])
    const second = AFTERNOON + LIMITS.tellingTopicMs
    await runTo(second, second + 60_000)
    expect(told).toEqual(['ok', 'ok'])
    broken = true
    untold = [{ person: 'ops', since: second, error: 'mail-1: no answer' }]
    await runTo(second + 60_000, second + 120_000)
    broken = false
    await runTo(second + 120_000, second + 140_000)
    expect(told).toEqual(['ok', 'ok', 'failing'])
    expect(complaints).toHaveLength(1)
  })
})
