import { describe, expect, onTestFinished, test } from 'vitest'
import type { UplinkSettings } from '../../src/model/settings.js'
import { boardRules } from '../../src/receive/rules.js'
import { createUplinkClient } from '../../src/receive/uplink-client.js'
import { settingsOf } from '../scenario/detection/run-case.js'
import { embedded, handIngest, PASSWORD } from './support.js'

const SITES = [settingsOf('juniper'), settingsOf('fern')]
const ACCOUNTS = [
  { name: 'juniper-uplink', role: 'board', site: 'juniper' },
  { name: 'uplink', role: 'board', site: null },
] as const

/** A broker in town that knows two places. */
async function town(ingest: ReturnType<typeof handIngest>, port = 0) {
  return embedded({
    settings: { kind: 'embedded', host: '127.0.0.1', port, tls: null, anonymous: false },
    boards: boardRules(SITES),
    verify: async (name, password) =>
      password === PASSWORD ? (ACCOUNTS.find((one) => one.name === name) ?? null) : null,
    ingest: ingest.ingest,
  })
}

function uplinkTo(port: number, changes: Partial<UplinkSettings> = {}, deadlineMs = 3_000) {
  const client = createUplinkClient({
    settings: {
      everyS: 300,
      monthBytes: 1e7,
      url: `mqtt://127.0.0.1:${port}`,
      username: 'juniper-uplink',
      password: PASSWORD,
      clientId: 'juniper-uplink',
      caFile: null,
      ...changes,
    },
    deadlineMs,
  })
  onTestFinished(() => client.close())
  return client
}

const TOPIC = 'water/juniper/uplink'

describe('the uplink', () => {
  test('is told that town has a frame only when it is kept there', async () => {
    const hand = handIngest()
    const broker = await town(hand)
    const client = uplinkTo(broker.port)
    let taken = false
    const carried = client.carry(TOPIC, Buffer.from([1, 2, 3])).then(() => {
      taken = true
    })
    while (hand.taken.length === 0) await new Promise((resolve) => setTimeout(resolve, 5))
    await new Promise((resolve) => setTimeout(resolve, 50))
    expect(taken).toBe(false)
    hand.taken[0]?.settle(null)
    await carried
    expect(hand.taken[0]?.arrival.topic).toBe(TOPIC)
    expect([...(hand.taken[0]?.arrival.payload ?? [])]).toEqual([1, 2, 3])
  })

  test('fails when the store in town fails, and goes through on the next try', async () => {
    const hand = handIngest()
    const broker = await town(hand)
    const client = uplinkTo(broker.port, {}, 500)
    const first = client.carry(TOPIC, Buffer.from('a'))
    first.catch(() => {})
    while (hand.taken.length === 0) await new Promise((resolve) => setTimeout(resolve, 5))
    hand.taken[0]?.settle(new Error('disk full'))
    await expect(first).rejects.toThrow()
    const second = client.carry(TOPIC, Buffer.from('a'))
    while (hand.taken.length < 2) await new Promise((resolve) => setTimeout(resolve, 5))
    hand.taken[1]?.settle(null)
    await second
  })

  test('fails at once where nobody listens, and works when somebody does', async () => {
    const gone = await town(handIngest(true))
    const { port } = gone
    await gone.close()
    const client = uplinkTo(port)
    await expect(client.carry(TOPIC, Buffer.from('a'))).rejects.toThrow(/ECONNREFUSED|closed/)
    const hand = handIngest(true)
    await town(hand, port)
    await client.carry(TOPIC, Buffer.from('b'))
    expect(hand.taken.map(({ text }) => text)).toEqual(['b'])
  })

  test('may publish readings of its own place and nothing else, and not with a wrong password', async () => {
    const hand = handIngest(true)
    const broker = await town(hand)
    const client = uplinkTo(broker.port, {}, 500)
    await client.carry(TOPIC, Buffer.from('own'))
    await expect(client.carry('water/fern/uplink', Buffer.from('other'))).rejects.toThrow()
    await expect(client.carry('water/juniper/tank-board', Buffer.from('a board'))).rejects.toThrow()
    await expect(uplinkTo(broker.port, { password: 'guess' }, 500).carry(TOPIC, Buffer.from('x'))).rejects.toThrow()
    // One account for every place stands for no single one: it may do nothing.
    await expect(uplinkTo(broker.port, { username: 'uplink' }, 500).carry(TOPIC, Buffer.from('x'))).rejects.toThrow()
    expect(hand.taken.map(({ text }) => text)).toEqual(['own'])
  })
})
