import { describe, expect, test } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import {
  client,
  closed,
  connectBytes,
  connected,
  drivenTimers,
  embedded,
  handIngest,
  publishBytes,
  quiet,
  socketTo,
  until,
} from './support.js'

const OWN = 'water/juniper/tank-board'

/** The return code with which a connection is refused (MQTT 3.1.1, table 3.1). */
function refusal(one: ReturnType<typeof client>): Promise<number> {
  return new Promise((resolve, reject) => {
    one.once('connect', () => reject(new Error('it was let in')))
    one.once('error', (error) => resolve('code' in error ? Number(error.code) : Number.NaN))
  })
}

describe('who comes in', () => {
  test.each([
    ['a wrong password', { password: 'wrong' }, 4, 'account'],
    ['an unknown name', { username: 'nobody', clientId: 'x' }, 4, 'account'],
    ['no name, where anonymous is off', { username: '', password: '', clientId: 'x' }, 4, 'account'],
    ['an empty client id', { clientId: '' }, 2, 'client-id'],
    ['a client id kept for the program itself', { clientId: '$probe' }, 2, 'client-id'],
    ['a client id without end', { clientId: 'x'.repeat(LIMITS.clientIdCharsMax + 1) }, 2, 'client-id'],
    [
      'a will to a topic of another board',
      { will: { topic: 'water/juniper/pump-board', payload: Buffer.from('x'), qos: 1, retain: false } },
      5,
      'topic',
    ],
  ] as const)('%s is refused with its code and counted', async (_what, options, code, reason) => {
    const broker = await embedded()
    expect(await refusal(client(broker.port, options))).toBe(code)
    expect(broker.stats().refused[reason]).toBe(1)
    expect(broker.events).toMatchObject([{ kind: 'refused', reason }])
    expect(broker.stats().connected).toBe(0)
  })

  test('a client that gives no name at all is refused as not authorized', async () => {
    const broker = await embedded()
    const socket = await socketTo(broker.port)
    const bytes: Buffer[] = []
    socket.on('data', (chunk) => bytes.push(chunk))
    socket.write(connectBytes('x', 10))
    await closed(socket)
    expect(Buffer.concat(bytes).toString('hex')).toBe('20020005')
  })

  test('a client without a name comes in on a loopback host where anonymous is on: it may publish, not read', async () => {
    const hand = handIngest(true)
    const settings = { kind: 'embedded', host: '127.0.0.1', port: 0, tls: null, anonymous: true } as const
    const broker = await embedded({ settings, ingest: hand.ingest })
    const one = client(broker.port, { clientId: 'sim-1' })
    one.options.username = undefined as never
    await connected(one)
    await one.publishAsync(OWN, 'x', { qos: 1 })
    expect(hand.taken).toHaveLength(1)
    await expect(one.subscribeAsync('water/#', { qos: 1 })).rejects.toThrow()
  })

  test('anonymous on a host that others reach is an error at the start', async () => {
    const settings = { kind: 'embedded', host: '0.0.0.0', port: 0, tls: null, anonymous: true } as const
    await expect(embedded({ settings })).rejects.toThrow(/loopback/)
  })

  test('the eleventh wrong password in a minute is not even checked, and the right one is taken a minute later', async () => {
    let at = 0
    let checked = 0
    const verify = (name: string, password: string) => {
      checked++
      return Promise.resolve(password === 'right' ? ({ name, role: 'board', site: 'juniper' } as const) : null)
    }
    const broker = await embedded({ verify }, () => at)
    for (let i = 0; i < LIMITS.loginTriesMax; i++) await refusal(client(broker.port, { password: 'wrong' }))
    expect(await refusal(client(broker.port, { password: 'right' }))).toBe(3)
    expect(checked).toBe(LIMITS.loginTriesMax)
    at += 60_000
    await connected(client(broker.port, { password: 'right' }))
  })

  test('a failing account store refuses with "server unavailable" and is logged', async () => {
    const broker = await embedded({ verify: () => Promise.reject(new Error('database is locked')) })
    expect(await refusal(client(broker.port))).toBe(3)
    expect(broker.said.some((one) => one.level === 'error' && 'error' in one.about)).toBe(true)
  })
})

describe('topics', () => {
  test.each([
    ['the topic of another board', 'water/juniper/pump-board'],
    ['the topic of a board of another site', 'water/fern/pump-board'],
    ['a topic beneath its own', `${OWN}/more`],
    ['a topic of the broker', '$SYS/broker/load'],
    ['the topic of the probe', '$probe'],
  ])('a board that publishes to %s is cut off and nothing is taken', async (_what, topic) => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    board.publish(topic, 'x', { qos: 1 })
    await closed(board)
    expect(hand.taken).toEqual([])
    expect(broker.events).toMatchObject([{ kind: 'refused', reason: 'topic', who: 'juniper/tank-board' }])
    expect(JSON.stringify(broker.events)).toContain(OWN)
  })

  // MQTT 3.1.1, MQTT-3.3.2-2: a topic name holds no wildcard.
  test.each(['water/juniper/+', 'water/#', ''])('a publish to %j is a broken protocol', async (topic) => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    board.stream.write(publishBytes(topic, 'x'))
    await closed(board)
    expect(hand.taken).toEqual([])
    expect(broker.stats().refused.protocol).toBe(1)
  })

  test('people publish nothing', async () => {
    const broker = await embedded()
    const owner = await connected(client(broker.port, { username: 'ops' }))
    owner.publish(OWN, 'x', { qos: 1 })
    await closed(owner)
    expect(broker.stats().refused.topic).toBe(1)
  })

  test.each([
    ['ops', 'water/#', true],
    ['ops', 'meters/tank/level', true],
    ['ops', '#', false],
    ['ops', '$SYS/#', false],
    ['neighbour', 'water/juniper/#', true],
    ['neighbour', 'water/juniper/+', true],
    ['neighbour', 'water/fern/#', false],
    ['neighbour', 'water/#', false],
    ['tank-board', `${OWN}/commands`, true],
    ['tank-board', `${OWN}/#`, true],
    ['tank-board', 'water/juniper/pump-board', false],
    ['tank-board', 'water/juniper/+', false],
    ['tank-board', '$probe', false],
  ])('%s subscribes to %s: %s', async (username, filter, granted) => {
    const broker = await embedded()
    const one = await connected(client(broker.port, { username }))
    const result = await one.subscribeAsync(filter, { qos: 1 }).catch(() => 'refused')
    expect(result !== 'refused').toBe(granted)
    expect(broker.stats().refused.subscription).toBe(granted ? 0 : 1)
  })
})

describe('sizes, speeds and numbers', () => {
  test('an oversize frame of a stranger is cut off by its header, before its bytes are gathered', async () => {
    const broker = await embedded()
    const socket = await socketTo(broker.port)
    // A CONNECT that says it is 60 MB long: 0x10, then 60,000,000 in seven-bit groups (MQTT 3.1.1, section 2.2.3).
    socket.write(Buffer.from([0x10, 0x80, 0x8e, 0xce, 0x1c]))
    await closed(socket)
    expect(broker.stats().refused['frame-too-large']).toBe(1)
  })

  test('a message larger than a payload may be is handed on, to be counted and acknowledged; beyond a frame it is cut off', async () => {
    const hand = handIngest(true)
    const broker = await embedded({ ingest: hand.ingest })
    const board = await connected(client(broker.port))
    await board.publishAsync(OWN, Buffer.alloc(300_000, 'x'), { qos: 1 })
    expect(hand.taken[0]?.arrival.payload.length).toBe(300_000)
    board.publish(OWN, Buffer.alloc(LIMITS.frameBytesMax, 'x'), { qos: 1 })
    await closed(board)
    expect(hand.taken).toHaveLength(1)
    expect(broker.stats().refused['frame-too-large']).toBe(1)
    expect(broker.events).toMatchObject([{ reason: 'frame-too-large', who: 'juniper/tank-board' }])
    await until(() => broker.stats().connected === 0)
  })

  test('a stranger that sends its CONNECT drop by drop is cut off at the time limit', async () => {
    const broker = await embedded({ limits: { connectTimeoutMs: 150 } })
    const socket = await socketTo(broker.port)
    const hello = connectBytes('slow', 10)
    let at = 0
    const drip = setInterval(() => socket.write(hello.subarray(at, ++at)), 30)
    await closed(socket)
    clearInterval(drip)
    expect(at).toBeLessThan(hello.length)
    expect(broker.stats().refused.protocol).toBe(1)
  })

  test('a board that is silent for one and a half keepalives is cut off, and a keepalive of 0 or of days is shortened', async () => {
    const broker = await embedded({ limits: { keepaliveMaxS: 1 } })
    const bytes = (keepalive: number, id: string): Buffer => connectBytes(id, keepalive, 'tank-board')
    const sockets = await Promise.all([socketTo(broker.port), socketTo(broker.port)])
    sockets[0]?.write(bytes(0, 'never'))
    sockets[1]?.write(bytes(60_000, 'rarely'))
    for (const socket of sockets) socket.resume()
    await until(() => broker.stats().connected === 2)
    await Promise.all(sockets.map(closed))
    await until(() => broker.stats().connected === 0)
  })

  test('a flood of connections stops at the limit; those inside stay and the program still hears itself', async () => {
    const broker = await embedded({ limits: { connectionsMax: 20 } })
    const board = await connected(client(broker.port))
    const sockets = await Promise.all(Array.from({ length: 60 }, () => socketTo(broker.port)))
    await until(() => broker.stats().refused['too-many-connections'] >= 60 - 19 - LIMITS.connectionsSpare)
    await until(() => sockets.filter((socket) => socket.destroyed).length >= 60 - 19 - LIMITS.connectionsSpare)
    await board.publishAsync(OWN, 'x', { qos: 1 })
    // One line for the many.
    expect(broker.said.filter((one) => one.level === 'warn')).toHaveLength(1)
  })

  test('past the bound of the queue a message is refused and counted, and the store gets no more', async () => {
    const hand = handIngest()
    const broker = await embedded({ ingest: hand.ingest, limits: { ingestQueueMax: 5 } })
    const board = await connected(client(broker.port))
    for (let i = 0; i < 6; i++) board.publish(OWN, String(i), { qos: 1 })
    await closed(board)
    expect(hand.taken).toHaveLength(5)
    expect(broker.stats().refused['queue-full']).toBe(1)
    hand.settleAll()
    const again = await connected(client(broker.port))
    again.publish(OWN, 'later', { qos: 1 })
    await until(() => hand.taken.length === 6)
  })

  test('noise, an HTTP request and a client of version 5 are turned away without harm', async () => {
    const broker = await embedded()
    for (const bytes of ['GET / HTTP/1.1\r\nHost: x\r\n\r\n', '\0\0\0\0\0\0', '\xff\xff\xff\xff\xff\xff']) {
      const socket = await socketTo(broker.port)
      socket.write(bytes, 'latin1')
      await closed(socket)
    }
    // MQTT 3.1.1, MQTT-3.1.2-2: an unknown protocol level is answered with return code 1.
    const five = client(broker.port, { protocolVersion: 5 })
    await closed(five)
    const board = await connected(client(broker.port))
    await board.publishAsync(OWN, 'x', { qos: 1 })
    expect(broker.stats().refused.protocol + broker.stats().refused['frame-too-large']).toBe(4)
  })

  test('a second CONNECT on a connection ends it', async () => {
    // MQTT 3.1.1, MQTT-3.1.0-2.
    const broker = await embedded()
    const board = await connected(client(broker.port))
    board.stream.write(connectBytes('x', 10))
    await closed(board)
  })
})

describe('one client id, two boards', () => {
  // MQTT 3.1.1, MQTT-3.1.4-2: the newcomer takes the place of the one that is there.
  test('a takeover now and then is counted; more than five in two minutes are said, once', async () => {
    const broker = await embedded({}, () => 1_000)
    await connected(client(broker.port))
    for (let i = 0; i < 8; i++) await connected(client(broker.port))
    expect(broker.stats().takeovers).toBe(8)
    expect(broker.events).toEqual([
      {
        kind: 'two-boards-one-name',
        at: 1_000,
        client: 'tank-board',
        who: 'juniper/tank-board',
        takeovers: LIMITS.takeoversMax + 1,
      },
    ])
    await until(() => broker.stats().connected === 1)
  })

  test('another account cannot push a board out by taking its client id', async () => {
    const broker = await embedded()
    const board = await connected(client(broker.port))
    expect(await refusal(client(broker.port, { username: 'pump-board', clientId: 'tank-board' }))).toBe(2)
    await quiet()
    expect(board.connected).toBe(true)
    expect(broker.stats()).toMatchObject({ takeovers: 0, connected: 1 })
  })
})

describe('an account that is no longer what it was', () => {
  test.each([
    ['removed', undefined],
    ['given another secret', 'another mark'],
  ])('%s while its client is connected ends the connection, and the others stay', async (_what, mark) => {
    const { timers, tick } = drivenTimers(LIMITS.accountsLookMs)
    const marks = new Map([
      ['tank-board', 'as it was'],
      ['pump-board', 'as it was'],
    ])
    const broker = await embedded({ marks: () => marks, timers })
    const board = client(broker.port)
    const other = client(broker.port, { username: 'pump-board', clientId: 'pump-board' })
    await Promise.all([connected(board), connected(other)])
    tick()
    expect(broker.stats().connected).toBe(2)
    if (mark === undefined) marks.delete('tank-board')
    else marks.set('tank-board', mark)
    tick()
    await until(() => broker.stats().connected === 1)
    expect(other.connected).toBe(true)
    expect(broker.events).toMatchObject([{ kind: 'refused', reason: 'account' }])
  })
})
