import { describe, expect, onTestFinished, test } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { type ExternalOptions, startExternal } from '../../src/receive/external.js'
import type { ReceiveEvent, Receiver } from '../../src/receive/receiver.js'
import { type OtherBroker, otherBroker } from '../support/mosquitto.js'
import { needs } from '../support/needs.js'
import { client, connected, drivenTimers, handIngest, listLog, quiet, type Said, until } from './support.js'

const OWN = 'water/juniper/tank-board'
const path = needs('mosquitto')

type External = Receiver & { readonly events: ReceiveEvent[]; readonly said: Said[] }

async function external(broker: OtherBroker | number, options: Partial<ExternalOptions> = {}): Promise<External> {
  const events: ReceiveEvent[] = []
  const { log, said } = listLog()
  const port = typeof broker === 'number' ? broker : broker.port
  const settings = {
    kind: 'external',
    username: null,
    password: null,
    clientId: 'juniper-daemon',
    caFile: null,
  } as const
  const receiver = await startExternal({
    settings: { ...settings, url: `mqtt://127.0.0.1:${port}` },
    topics: ['water/juniper/+'],
    ingest: (_arrival, settle) => settle(null),
    now: Date.now,
    random: () => 0.5,
    log,
    onEvent: (event) => events.push(event),
    ...options,
    limits: { reconnectFirstMs: 20, reconnectLastMs: 100, ...options.limits },
  })
  onTestFinished(() => receiver.close())
  const { address, stats, publish, close } = {
    address: () => receiver.address(),
    stats: () => receiver.stats(),
    publish: receiver.publish.bind(receiver),
    close: () => receiver.close(),
  }
  return { address, stats, publish, close, events, said }
}

const up = (receiver: Receiver): Promise<void> => until(() => receiver.stats().connected === 1, 'the connection')

async function board(broker: OtherBroker): Promise<ReturnType<typeof client>> {
  return connected(client(broker.port, { clientId: 'tank-board', reconnectPeriod: 20 }))
}

/** How many messages the broker still holds for us: what it delivers to another client under our client id. */
async function unacknowledged(broker: OtherBroker): Promise<string[]> {
  const heard: string[] = []
  const one = client(broker.port, { clientId: 'juniper-daemon', clean: false })
  one.on('message', (_topic, payload) => heard.push(payload.toString()))
  await connected(one)
  await quiet()
  await one.endAsync()
  return heard
}

describe.skipIf(path === null)('an outside broker', () => {
  const start = (lines: readonly string[] = [], acl?: string): Promise<OtherBroker> =>
    otherBroker(path ?? '', lines, acl)

  test('is acknowledged only what has been settled', async () => {
    const broker = await start()
    const hand = handIngest()
    const receiver = await external(broker, { ingest: hand.ingest })
    await up(receiver)
    const sender = await board(broker)
    for (const text of ['a', 'b', 'c']) await sender.publishAsync(OWN, text, { qos: 1 })
    await until(() => hand.taken.length === 3)
    expect(hand.taken.map((one) => one.text)).toEqual(['a', 'b', 'c'])
    hand.taken[0]?.settle(null)
    await quiet()
    expect(receiver.stats()).toMatchObject({ received: 3, held: 2, settled: 1, connected: 1 })
    await receiver.close()
    expect(await unacknowledged(broker)).toEqual(['b', 'c'])
  })

  test('many messages are held at once, and acknowledged together, in order', async () => {
    const broker = await start(['max_inflight_messages 500'])
    const hand = handIngest()
    const receiver = await external(broker, { ingest: hand.ingest })
    await up(receiver)
    const sender = await board(broker)
    await Promise.all(Array.from({ length: 1000 }, (_, i) => sender.publishAsync(OWN, String(i), { qos: 1 })))
    await until(() => hand.taken.length === 500)
    await quiet()
    expect(hand.taken).toHaveLength(500)
    for (const { settle } of [...hand.taken].reverse()) settle(null)
    await until(() => hand.taken.length === 1000)
    hand.settleAll()
    await until(() => receiver.stats().settled === 1000)
    expect(hand.taken.map((one) => Number(one.text))).toEqual(Array.from({ length: 1000 }, (_, i) => i))
    await receiver.close()
    expect(await unacknowledged(broker)).toEqual([])
  })

  test('delivers again what could not be stored, on a new connection', async () => {
    const broker = await start()
    const hand = handIngest()
    const receiver = await external(broker, { ingest: hand.ingest })
    await up(receiver)
    const sender = await board(broker)
    await sender.publishAsync(OWN, 'once', { qos: 1 })
    await until(() => hand.taken.length === 1)
    hand.taken[0]?.settle(new Error('disk full'))
    await until(() => hand.taken.length === 2, 'the second delivery')
    expect(hand.taken[1]?.text).toBe('once')
    hand.taken[1]?.settle(null)
    await quiet()
    expect(receiver.stats()).toMatchObject({ settled: 1, failed: 1, held: 0 })
    expect(receiver.events.map((event) => event.kind)).toEqual(['connected', 'disconnected', 'connected'])
    expect(JSON.stringify(receiver.events)).toContain('disk full')
    await receiver.close()
    expect(await unacknowledged(broker)).toEqual([])
  })

  test('gets no acknowledgement on a later connection for what came by an earlier one', async () => {
    const broker = await start()
    const hand = handIngest()
    const receiver = await external(broker, { ingest: hand.ingest })
    await up(receiver)
    const sender = await board(broker)
    await sender.publishAsync(OWN, 'first', { qos: 1 })
    await until(() => hand.taken.length === 1)
    // Another client of our name pushes us out, acknowledges nothing, and goes; we are sent the message again.
    const intruder = client(broker.port, { clientId: 'juniper-daemon', clean: false })
    intruder.handleMessage = (_packet, next) => next(new Error('not acknowledged'))
    await connected(intruder)
    await intruder.endAsync()
    await until(() => hand.taken.length === 2)
    hand.taken[0]?.settle(null)
    await quiet()
    await receiver.close()
    expect(await unacknowledged(broker)).toEqual(['first'])
  })

  test('may be gone for a while: what was sent meanwhile comes when it is back, and sessions outlive its restart', async () => {
    const broker = await start()
    const hand = handIngest(true)
    const receiver = await external(broker, { ingest: hand.ingest })
    await up(receiver)
    const sender = await board(broker)
    await sender.publishAsync(OWN, 'before', { qos: 1 })
    await broker.signal('SIGTERM')
    await until(() => receiver.stats().connected === 0)
    await expect(receiver.publish('water/juniper/alarms', 'x')).rejects.toThrow(/not connected/)
    await broker.start()
    await sender.publishAsync(OWN, 'after', { qos: 1 })
    await up(receiver)
    // QoS 1 may bring a message twice, above all one whose acknowledgement the broker's end cut off; none may be missing.
    await until(() => hand.taken.some((one) => one.text === 'after'), 'what was sent meanwhile')
    expect([...new Set(hand.taken.map((one) => one.text))]).toEqual(['before', 'after'])
  })

  test('that is not there yet is tried until it is', async () => {
    const broker = await start()
    await broker.signal('SIGTERM')
    const receiver = await external(broker)
    await quiet()
    expect(receiver.stats().connected).toBe(0)
    await broker.start()
    await up(receiver)
    expect(receiver.said.filter((one) => one.words.startsWith('no connection'))).toHaveLength(1)
  })

  // MQTT 3.1.1, MQTT-3.3.1-8 and 3.3.1-9: the flag is set only on what is sent because of a new subscription.
  test('marks what it had retained, and not what is alive', async () => {
    const broker = await start()
    const sender = await board(broker)
    await sender.publishAsync(OWN, 'from June', { qos: 1, retain: true })
    const hand = handIngest(true)
    const receiver = await external(broker, { ingest: hand.ingest })
    await until(() => hand.taken.length === 1)
    await up(receiver)
    await sender.publishAsync(OWN, 'alive', { qos: 1, retain: true })
    await until(() => hand.taken.length === 2)
    expect(hand.taken.map((one) => [one.text, one.arrival.retain])).toEqual([
      ['from June', true],
      ['alive', false],
    ])
  })

  test('takes our own messages, retained ones too', async () => {
    const broker = await start()
    const receiver = await external(broker)
    await up(receiver)
    await receiver.publish('water/juniper/alarms/x', Buffer.from('tank low'), { retain: true })
    const reader = client(broker.port, { clientId: 'reader' })
    const heard: string[] = []
    reader.on('message', (_topic, payload) => heard.push(payload.toString()))
    await connected(reader)
    await reader.subscribeAsync('water/juniper/alarms/x')
    await until(() => heard.length === 1)
    expect(heard).toEqual(['tank low'])
  })

  test('is read no further while too much is held, and then on', async () => {
    const broker = await start(['max_inflight_messages 0', 'max_queued_messages 0'])
    const hand = handIngest()
    const receiver = await external(broker, { ingest: hand.ingest, limits: { externalHeldMax: 50 } })
    await up(receiver)
    const sender = await board(broker)
    await Promise.all(Array.from({ length: 300 }, (_, i) => sender.publishAsync(OWN, String(i), { qos: 1 })))
    await until(() => hand.taken.length >= 50)
    await quiet()
    expect(hand.taken).toHaveLength(50)
    await until(() => {
      hand.settleAll()
      return receiver.stats().settled === 300
    })
    expect(hand.taken.map((one) => Number(one.text))).toEqual(Array.from({ length: 300 }, (_, i) => i))
  })
})

describe.skipIf(path === null)('the heartbeat', () => {
  const start = (acl?: string): Promise<OtherBroker> => otherBroker(path ?? '', [], acl)

  test('comes back, proves the link, and is no message of a board', async () => {
    const { timers, tick } = drivenTimers(LIMITS.heartbeatMs)
    const hand = handIngest()
    const receiver = await external(await start(), { timers, ingest: hand.ingest, topics: ['#'] })
    await up(receiver)
    expect(receiver.stats().provedAt).toBeNull()
    tick()
    await until(() => receiver.stats().provedAt !== null)
    expect(hand.taken).toEqual([])
    expect(receiver.stats()).toMatchObject({ misses: 0, restarts: 0 })
  })

  test('of a broker that hangs does not come back: three misses make a new connection, which works when it wakes', async () => {
    const { timers, tick } = drivenTimers(LIMITS.heartbeatMs)
    const broker = await start()
    const receiver = await external(broker, { timers })
    await up(receiver)
    tick()
    await until(() => receiver.stats().provedAt !== null)
    await broker.signal('SIGSTOP')
    for (let i = 0; i <= LIMITS.heartbeatMissesMax; i++) tick()
    expect(receiver.stats()).toMatchObject({ restarts: 1, connected: 0 })
    expect(receiver.events.some((event) => event.kind === 'restarted')).toBe(true)
    await broker.signal('SIGCONT')
    await up(receiver)
    tick()
    await until(() => receiver.stats().misses === 0 && receiver.stats().connected === 1)
  })

  test('that the broker does not allow is said once and restarts nothing', async () => {
    const { timers, tick } = drivenTimers(LIMITS.heartbeatMs)
    const receiver = await external(await start('topic readwrite water/#\n'), { timers })
    await up(receiver)
    await until(() => {
      tick()
      return receiver.said.some((one) => one.words.includes('does not bring back'))
    })
    for (let i = 0; i < 10; i++) tick()
    await quiet()
    expect(receiver.stats()).toMatchObject({ connected: 1, restarts: 0 })
    expect(receiver.said.filter((one) => one.words.includes('does not bring back'))).toHaveLength(1)
  })
})

describe('what waiting cannot mend', () => {
  test('an address of no known kind is an error at the start', async () => {
    const settings = {
      kind: 'external',
      url: 'gopher://x',
      username: null,
      password: null,
      clientId: 'x',
      caFile: null,
    } as const
    await expect(external(1, { settings })).rejects.toThrow(/broker\.external\.url.*gopher/)
  })

  test('a missing file of authorities is an error that names the setting', async () => {
    const settings = {
      kind: 'external',
      url: 'mqtts://x',
      username: null,
      password: null,
      clientId: 'x',
      caFile: '/none.pem',
    } as const
    await expect(external(1, { settings })).rejects.toThrow(/ca_file.*none\.pem/)
  })
})

test('waits between tries grow from the first to the last, with the chance handed in', async () => {
  const waits: number[] = []
  const { timers } = drivenTimers(LIMITS.heartbeatMs)
  const watched = {
    every: timers.every,
    after: (ms: number, act: () => void) => {
      if (ms < 1000) waits.push(ms)
      return timers.after(Math.min(ms, 1), act)
    },
  }
  // Nothing listens on port 1.
  const chances = [0, 0.5, 1, 0, 0, 0]
  await external(1, {
    timers: watched,
    random: () => chances.shift() ?? 0,
    limits: { reconnectFirstMs: 100, reconnectLastMs: 700 },
  })
  await until(() => waits.length >= 6)
  expect(waits.slice(0, 6)).toEqual([50, 150, 400, 350, 350, 350])
})
