import { Aedes, type AedesOptions, type Client } from 'aedes'
import { describe, expect, test } from 'vitest'
import {
  client,
  closed,
  connectBytes,
  connected,
  embedded,
  handIngest,
  publishBytes,
  quiet,
  socketTo,
  until,
} from './support.js'

const OWN = 'water/juniper/tank-board'

describe('kept means kept', () => {
  test('PUBACK leaves only when the message is settled', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    let acknowledged = false
    board.publish(OWN, '[]', { qos: 1 }, () => {
      acknowledged = true
    })
    await until(() => hand.taken.length === 1)
    await quiet()
    expect(acknowledged).toBe(false)
    expect(broker.stats()).toMatchObject({ received: 1, held: 1, settled: 0 })
    hand.settleAll()
    await until(() => acknowledged)
    expect(broker.stats()).toMatchObject({ received: 1, held: 0, settled: 1, connected: 1 })
  })

  test('a message that could not be stored gets no PUBACK: the connection is closed and the board sends it again', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port, { reconnectPeriod: 20, clean: false }))
    let acknowledged = false
    board.publish(OWN, 'once', { qos: 1 }, () => {
      acknowledged = true
    })
    await until(() => hand.taken.length === 1)
    hand.taken[0]?.settle(new Error('disk full'))
    await until(() => hand.taken.length === 2, 'the second copy')
    expect(acknowledged).toBe(false)
    expect(hand.taken[1]?.text).toBe('once')
    hand.taken[1]?.settle(null)
    await until(() => acknowledged)
    expect(broker.stats()).toMatchObject({ settled: 1, failed: 1 })
  })

  // MQTT 3.1.1, MQTT-4.6.0-2: acknowledgements in the order in which the publishes came.
  test('acknowledgements leave in order of arrival, whatever the order of settling', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    const order: number[] = []
    for (let i = 0; i < 20; i++) board.publish(OWN, String(i), { qos: 1 }, () => order.push(i))
    await until(() => hand.taken.length === 20)
    for (const { settle } of [...hand.taken].reverse()) settle(null)
    await until(() => order.length === 20)
    expect(order).toEqual(Array.from({ length: 20 }, (_, i) => i))
  })

  test('QoS 0 goes to ingest too, and its failure closes nothing', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    board.publish(OWN, 'zero', { qos: 0 })
    await until(() => hand.taken.length === 1)
    hand.taken[0]?.settle(new Error('disk full'))
    board.publish(OWN, 'after', { qos: 1 })
    await until(() => hand.taken.length === 2)
    expect(board.connected).toBe(true)
  })

  test('QoS 2 is taken: PUBREC only after settling', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    const packets: string[] = []
    board.on('packetreceive', (packet) => packets.push(packet.cmd))
    board.publish(OWN, 'two', { qos: 2 })
    await until(() => hand.taken.length === 1)
    await quiet()
    expect(packets).toEqual([])
    hand.settleAll()
    await until(() => packets.includes('pubcomp'))
    expect(packets).toEqual(['pubrec', 'pubcomp'])
  })

  test('an ingest that throws counts as one that could not store', async () => {
    const broker = await embedded({
      ingest: () => {
        throw new Error('broken')
      },
    })
    const board = await connected(client(broker.port))
    board.publish(OWN, 'x', { qos: 1 })
    await closed(board)
    expect(broker.stats()).toMatchObject({ failed: 1, held: 0 })
  })

  test('a board that left before its message was settled hurts nobody', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    for (let i = 0; i < 50; i++) board.publish(OWN, String(i), { qos: 1 })
    await until(() => hand.taken.length === 50)
    board.end(true)
    await quiet()
    hand.settleAll()
    await until(() => broker.stats().connected === 0)
    const next = await connected(client(broker.port))
    await next.publishAsync(OWN, 'again', { qos: 0 })
    expect(broker.said.filter((one) => one.level !== 'info')).toEqual([])
  })
})

describe('what a sender leaves behind', () => {
  test('is taken to the last message when it sends much, says goodbye and is gone', async () => {
    const hand = handIngest()
    // Settled a little later, as a store that commits many at once does it.
    const ingest: typeof hand.ingest = (arrival, settle) => {
      hand.ingest(arrival, settle)
      setTimeout(() => settle(null), 2)
    }
    const broker = await embedded({ ingest })
    const socket = await socketTo(broker.port)
    socket.write(connectBytes('brief', 10, 'tank-board'))
    await new Promise((resolve) => socket.once('data', resolve))
    const goodbye = Buffer.from([0xe0, 0])
    socket.end(Buffer.concat([...Array.from({ length: 3000 }, (_, i) => publishBytes(OWN, `n${i}`)), goodbye]))
    await until(() => broker.stats().connected === 0)
    expect(hand.taken).toHaveLength(3000)
    expect(hand.taken.at(-1)?.text).toBe('n2999')
  })
})

describe('what an arrival carries', () => {
  test('topic, bytes and the handed-in time; a wish to retain is not followed and makes no old news of it', async () => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest }, () => 1_764_000_000_123)
    const board = await connected(client(broker.port))
    await board.publishAsync(OWN, Buffer.from([0xff, 0x00]), { qos: 1, retain: true })
    await board.publishAsync('meters/tank/level', '1.25', { qos: 1 })
    expect(
      hand.taken.map(({ arrival }) => ({ ...arrival, payload: Buffer.from(arrival.payload).toString('hex') })),
    ).toEqual([
      { at: 1_764_000_000_123, topic: OWN, payload: 'ff00', retain: false },
      { at: 1_764_000_000_123, topic: 'meters/tank/level', payload: '312e3235', retain: false },
    ])
    const reader = await connected(client(broker.port, { username: 'ops' }))
    const heard: string[] = []
    reader.on('message', (topic) => heard.push(topic))
    await reader.subscribeAsync(`${OWN}/#`, { qos: 1 })
    await quiet()
    expect(heard).toEqual([])
    await board.publishAsync(OWN, 'live', { qos: 1 })
    await until(() => heard.length === 1)
  })

  // MQTT 3.1.1, MQTT-3.1.2-8 and 3.1.2-10: the will goes out when the link breaks, not after DISCONNECT.
  test('a will comes in as a message when the link breaks, and not after a proper goodbye', async () => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest })
    const will = { topic: OWN, payload: Buffer.from('gone'), qos: 1 as const, retain: true }
    const broken = await connected(client(broker.port, { will }))
    broken.stream.destroy()
    await until(() => hand.taken.length === 1)
    expect(hand.taken[0]).toMatchObject({ text: 'gone', arrival: { topic: OWN, retain: false } })
    const polite = await connected(client(broker.port, { will }))
    await polite.endAsync()
    await quiet()
    expect(hand.taken).toHaveLength(1)
  })

  test('wills of connections that the broker itself ends say nothing of the boards', async () => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest })
    await connected(client(broker.port, { will: { topic: OWN, payload: Buffer.from('gone'), qos: 1, retain: false } }))
    await broker.close()
    await quiet()
    expect(hand.taken).toEqual([])
  })
})

describe('our own messages', () => {
  test('reach those who subscribed, and later ones when retained', async () => {
    const broker = await embedded()
    await broker.publish('water/juniper/alarms', 'tank low', { retain: true })
    const reader = client(broker.port, { username: 'ops' })
    const heard: string[] = []
    reader.on('message', (topic, payload, packet) => heard.push(`${topic} ${payload.toString()} ${packet.retain}`))
    await connected(reader)
    await reader.subscribeAsync('water/#', { qos: 1 })
    await until(() => heard.length === 1)
    await broker.publish('water/juniper/alarms', 'all clear')
    await until(() => heard.length === 2)
    expect(heard).toEqual(['water/juniper/alarms tank low true', 'water/juniper/alarms all clear false'])
  })

  test('a reader that reads nothing neither holds up the boards nor fills the memory', async () => {
    const clients: Client[] = []
    const makeBroker = async (options: AedesOptions): Promise<Aedes> => {
      const made = await Aedes.createBroker(options)
      made.on('client', (one) => clients.push(one))
      return made
    }
    const broker = await embedded({ makeBroker })
    const reader = await connected(client(broker.port, { username: 'ops' }))
    await reader.subscribeAsync('water/#', { qos: 0 })
    reader.stream.pause()
    const board = await connected(client(broker.port))
    // Far more than the buffers of both sockets take.
    const payload = Buffer.alloc(60_000, 'x')
    for (let i = 0; i < 400; i++) await board.publishAsync(OWN, payload, { qos: 1 })
    expect(broker.stats().settled).toBe(400)
    const unsent = clients.find((one) => one.id === 'ops')?.conn.writableLength
    expect(unsent).toBeGreaterThan(0)
    expect(unsent).toBeLessThan(300_000)
  }, 9_000)

  test('nothing waits for a reader that was away, whatever session it asks for', async () => {
    const broker = await embedded()
    const options = { username: 'ops', clean: false }
    const reader = await connected(client(broker.port, options))
    await reader.subscribeAsync('water/#', { qos: 1 })
    await reader.endAsync()
    await broker.publish('water/juniper/alarms', 'tank low')
    const again = client(broker.port, options)
    const heard: string[] = []
    again.on('message', (topic) => heard.push(topic))
    const present = await new Promise((resolve) => again.once('connect', (packet) => resolve(packet.sessionPresent)))
    await quiet()
    expect([present, heard]).toEqual([false, []])
  })

  test('closing lets what is with the store settle first, and acknowledges it', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    let acknowledged = false
    board.publish(OWN, 'last', { qos: 1 }, (error) => {
      acknowledged = !error
    })
    await until(() => hand.taken.length === 1)
    const closing = broker.close()
    hand.settleAll()
    await closing
    await until(() => acknowledged)
    await expect(broker.publish('x', 'y')).rejects.toThrow(/not listening/)
  })
})
