import { createServer } from 'node:net'
import { Aedes, type AedesOptions } from 'aedes'
import mqtt from 'mqtt'
import { describe, expect, onTestFinished, test } from 'vitest'

/** What we rely on in aedes 1.2.0. An upgrade that breaks a promise fails here, with its name. */

async function serve(options: AedesOptions): Promise<{ broker: Aedes; port: number }> {
  const broker = await Aedes.createBroker(options)
  const server = createServer(broker.handle)
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  onTestFinished(async () => {
    await new Promise<void>((done) => broker.close(done))
    await new Promise((done) => server.close(done))
  })
  const address = server.address()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return { broker, port: address.port }
}

async function connect(port: number, options: mqtt.IClientOptions = {}): Promise<mqtt.MqttClient> {
  const client = await mqtt.connectAsync({ host: '127.0.0.1', port, clientId: 'board', reconnectPeriod: 0, ...options })
  client.on('error', () => {})
  onTestFinished(() => {
    client.end(true)
  })
  return client
}

const turns = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms))

describe('aedes', () => {
  test('PUBACK waits for the callback of authorizePublish, and the published hook comes after it', async () => {
    const order: string[] = []
    let release: () => void = () => {}
    const { port } = await serve({
      authorizePublish(_client, _packet, done) {
        release = () => done(null)
      },
      published(packet, _client, done) {
        if (packet.topic === 'a') order.push('published')
        done(null)
      },
    })
    const client = await connect(port)
    client.on('packetreceive', (packet) => order.push(packet.cmd))
    client.publish('a', 'x', { qos: 1 })
    await turns(50)
    expect(order).toEqual([])
    release()
    await turns(50)
    expect(order.sort()).toEqual(['puback', 'published'])
  })

  test('PUBACKs leave in the order of the callbacks, so that one line of our own is needed', async () => {
    const held: (() => void)[] = []
    const { port } = await serve({
      authorizePublish(_client, _packet, done) {
        held.push(() => done(null))
      },
    })
    const client = await connect(port)
    const acks: number[] = []
    client.on('packetreceive', (packet) => acks.push(packet.messageId ?? -1))
    for (let i = 0; i < 3; i++) client.publish('a', 'x', { qos: 1 })
    await turns(50)
    for (const release of held.reverse()) release()
    await turns(50)
    expect(acks).toHaveLength(3)
    expect(acks).toEqual([...acks].sort((a, b) => b - a))
  })

  test('an error from authorizePublish closes the connection without PUBACK', async () => {
    const { port } = await serve({ authorizePublish: (_client, _packet, done) => done(new Error('disk full')) })
    const client = await connect(port)
    const received: string[] = []
    client.on('packetreceive', (packet) => received.push(packet.cmd))
    client.publish('a', 'x', { qos: 1 })
    await new Promise<void>((resolve) => client.once('close', () => resolve()))
    expect(received).toEqual([])
  })

  test('a will comes through authorizePublish', async () => {
    const topics: string[] = []
    const { port } = await serve({
      authorizePublish(_client, packet, done) {
        topics.push(packet.topic)
        done(null)
      },
    })
    const client = await connect(port, { will: { topic: 'w', payload: Buffer.from('x'), qos: 1, retain: false } })
    client.stream.destroy()
    await turns(50)
    expect(topics).toEqual(['w'])
  })

  test('clearing retain in the hook keeps the broker from retaining', async () => {
    const { port } = await serve({
      authorizePublish(_client, packet, done) {
        packet.retain = false
        done(null)
      },
    })
    const client = await connect(port)
    await client.publishAsync('a', 'x', { qos: 1, retain: true })
    const heard: string[] = []
    client.on('message', (topic) => heard.push(topic))
    await client.subscribeAsync('a')
    await turns(50)
    expect(heard).toEqual([])
  })

  test('forcing a clean session in preConnect leaves no session behind', async () => {
    const { port } = await serve({
      preConnect(_client, packet, done) {
        packet.clean = true
        done(null, true)
      },
    })
    const first = await connect(port, { clean: false })
    await first.subscribeAsync('a', { qos: 1 })
    await first.endAsync()
    let present: boolean | undefined
    const again = mqtt.connect({ host: '127.0.0.1', port, clientId: 'board', clean: false, reconnectPeriod: 0 })
    onTestFinished(() => {
      again.end(true)
    })
    await new Promise<void>((resolve) =>
      again.once('connect', (packet) => {
        present = packet.sessionPresent
        resolve()
      }),
    )
    expect(present).toBe(false)
  })

  test('authorizeSubscribe answered with null is refused with 128 in the SUBACK', async () => {
    const { port } = await serve({ authorizeSubscribe: (_client, _subscription, done) => done(null, null) })
    const client = await connect(port)
    const granted: unknown[] = []
    client.on('packetreceive', (packet) => {
      if (packet.cmd === 'suback') granted.push(...packet.granted)
    })
    await client.subscribeAsync('a').catch(() => {})
    expect(granted).toEqual([128])
  })

  test('a publish of our own does not come through authorizePublish', async () => {
    let asked = 0
    const { broker } = await serve({
      authorizePublish(_client, _packet, done) {
        asked++
        done(null)
      },
    })
    await new Promise<void>((resolve, reject) =>
      broker.publish({ cmd: 'publish', topic: 'a', payload: 'x', qos: 1, retain: false, dup: false }, (error) =>
        error ? reject(error) : resolve(),
      ),
    )
    expect(asked).toBe(0)
  })
})
