import { createServer, type Socket } from 'node:net'
import mqtt from 'mqtt'
import { describe, expect, onTestFinished, test } from 'vitest'

/**
 * What we rely on in mqtt.js 5.16.0, against a server written here byte by byte (MQTT 3.1.1), so that nothing but
 * the client is in question. An upgrade that breaks a promise fails here, with its name.
 */

const CONNACK = Buffer.from([0x20, 2, 0, 0])
/** PUBLISH to topic `a` at QoS 1 with this packet identifier and the payload `x`. */
const publish = (id: number): Buffer => Buffer.from([0x32, 6, 0, 1, 0x61, id >> 8, id & 255, 0x78])

async function server(): Promise<{ port: number; sockets: Socket[]; got: Buffer[] }> {
  const sockets: Socket[] = []
  const got: Buffer[] = []
  const one = createServer((socket) => {
    sockets.push(socket)
    socket.on('error', () => {})
    socket.once('data', () => {
      socket.write(CONNACK)
      socket.on('data', (chunk) => got.push(chunk))
    })
  }).listen(0, '127.0.0.1')
  await new Promise<void>((resolve) => one.once('listening', () => resolve()))
  onTestFinished(() => {
    for (const socket of sockets) socket.destroy()
    one.close()
  })
  const address = one.address()
  if (typeof address !== 'object' || address === null) throw new Error('no port')
  return { port: address.port, sockets, got }
}

function client(port: number): mqtt.MqttClient {
  const one = mqtt.connect({ host: '127.0.0.1', port, clientId: 'x', clean: false, reconnectPeriod: 0 })
  one.on('error', () => {})
  onTestFinished(() => {
    one.end(true)
  })
  return one
}

const up = (one: mqtt.MqttClient): Promise<void> => new Promise((resolve) => one.once('connect', () => resolve()))
const turns = (ms = 40): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms))

describe('mqtt.js', () => {
  test('a handler set right after connect() sees the first message', async () => {
    const { port, sockets } = await server()
    const one = client(port)
    let seen = 0
    one.handleMessage = (_packet, next) => {
      seen++
      next()
    }
    await up(one)
    sockets[0]?.write(publish(1))
    await turns()
    expect(seen).toBe(1)
  })

  test('an error handed to the callback of handleMessage sends no PUBACK, keeps the connection, and goes on', async () => {
    const { port, sockets, got } = await server()
    const one = client(port)
    const errors: Error[] = []
    one.on('error', (error) => errors.push(error))
    const ids: (number | undefined)[] = []
    one.handleMessage = (packet, next) => {
      ids.push(packet.messageId)
      next(new Error('acknowledged later'))
    }
    await up(one)
    sockets[0]?.write(Buffer.concat([publish(1), publish(2), publish(3)]))
    await turns()
    expect(ids).toEqual([1, 2, 3])
    expect(Buffer.concat(got).length).toBe(0)
    expect(one.connected).toBe(true)
    expect(errors).toEqual([])
  })

  test('no error means a PUBACK by the library', async () => {
    const { port, sockets, got } = await server()
    const one = client(port)
    await up(one)
    sockets[0]?.write(publish(258))
    await turns()
    expect(Buffer.concat(got).toString('hex')).toBe('40020102')
  })

  test('what is written to its stream goes out between its own packets', async () => {
    const { port, got } = await server()
    const one = client(port)
    await up(one)
    one.publish('b', 'first', { qos: 0 })
    one.stream.write(Buffer.from([0x40, 2, 0, 7]))
    one.publish('b', 'second', { qos: 0 })
    await turns()
    const hex = Buffer.concat(got).toString('hex')
    const packet = (text: string): string => {
      const body = Buffer.concat([Buffer.from([0, 1]), Buffer.from(`b${text}`)])
      return Buffer.concat([Buffer.from([0x30, body.length]), body]).toString('hex')
    }
    expect(hex).toBe(`${packet('first')}40020007${packet('second')}`)
  })

  test('a message that is not let go stops the reading of the next', async () => {
    const { port, sockets } = await server()
    const one = client(port)
    const held: (() => void)[] = []
    one.handleMessage = (_packet, next) => {
      held.push(() => next(new Error('acknowledged later')))
    }
    await up(one)
    sockets[0]?.write(Buffer.concat([publish(1), publish(2)]))
    await turns()
    expect(held).toHaveLength(1)
    held[0]?.()
    await turns()
    expect(held).toHaveLength(2)
  })

  test('with reconnectPeriod 0 a lost connection is not made again by the library', async () => {
    const { port, sockets } = await server()
    const one = client(port)
    await up(one)
    const down = new Promise<void>((resolve) => one.once('close', () => resolve()))
    sockets[0]?.destroy()
    await down
    await turns()
    expect(sockets).toHaveLength(1)
  })
})
