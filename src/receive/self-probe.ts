import { randomUUID } from 'node:crypto'
import { connect as connectPlain } from 'node:net'
import { connect as connectTls } from 'node:tls'
// Not the client library: it would be a tenth of the daemon's memory, for one message a minute.
import { generate, type Packet, parser } from 'mqtt-packet'
import type { Timers } from './receiver.js'

/** Client ids that begin so are the program's own; nobody else may use one. */
export const OWN_CLIENT_PREFIX = '$'
export const PROBE_TOPIC = '$probe'

export type ProbeTarget = { readonly host: string; readonly port: number; readonly tls: boolean }

/** Tokens under way, by which the broker's hook tells that a probe has come through. */
export type Tokens = { expect(token: string): void; seen(token: string): void; take(token: string): boolean }

export function createTokens(): Tokens {
  const open = new Map<string, boolean>()
  return {
    expect: (token) => open.set(token, false),
    seen(token) {
      if (open.has(token)) open.set(token, true)
    },
    take(token) {
      const came = open.get(token) === true
      open.delete(token)
      return came
    },
  }
}

/**
 * One probe: a client of our own connects over real TCP (and TLS), publishes a token at QoS 1, must be acknowledged,
 * and the token must have passed the hook through which every board's message comes. Null when all of it worked
 * within the deadline, else what did not.
 */
export function probeOnce(
  target: ProbeTarget,
  account: { readonly name: string; readonly secret: Buffer },
  tokens: Tokens,
  deadlineMs: number,
  timers: Timers,
): Promise<string | null> {
  const token = randomUUID()
  tokens.expect(token)
  return new Promise((resolve) => {
    const { host, port } = target
    // It is our own certificate, made for whatever name the boards know this machine by.
    const socket = target.tls ? connectTls({ host, port, rejectUnauthorized: false }) : connectPlain({ host, port })
    let over = false
    const finish = (trouble: string | null): void => {
      if (over) return
      over = true
      stop()
      const came = tokens.take(token)
      socket.destroy()
      resolve(trouble ?? (came ? null : 'acknowledged, but not seen by the receiver'))
    }
    const stop = timers.after(deadlineMs, () => finish('no acknowledgement in time'))
    // Errors also come while the connection is being ended; the first is what counts.
    socket.on('error', (error) => finish(error.message === '' ? String(error) : error.message))
    socket.on('close', () => finish('the connection was closed'))
    const answers = parser({ protocolVersion: 4 })
    answers.on('error', (error: Error) => finish(`not an answer in MQTT: ${error.message}`))
    answers.on('packet', (packet: Packet) => {
      if (packet.cmd === 'connack' && packet.returnCode === 0) socket.write(tokenPacket(token))
      else finish(packet.cmd === 'puback' && packet.messageId === MESSAGE_ID ? null : refusalOf(packet))
    })
    socket.on('data', (bytes: Buffer) => answers.parse(bytes))
    socket.write(connectPacket(token, account))
  })
}

const MESSAGE_ID = 1

function connectPacket(token: string, account: { readonly name: string; readonly secret: Buffer }): Buffer {
  return generate({
    cmd: 'connect',
    protocolId: 'MQTT',
    protocolVersion: 4,
    clean: true,
    keepalive: 30,
    clientId: `${OWN_CLIENT_PREFIX}probe-${token}`,
    username: account.name,
    password: account.secret,
  })
}

function tokenPacket(token: string): Buffer {
  const message = { topic: PROBE_TOPIC, payload: token, qos: 1, messageId: MESSAGE_ID } as const
  return generate({ cmd: 'publish', ...message, dup: false, retain: false })
}

function refusalOf(packet: Packet): string {
  return packet.cmd === 'connack' ? `connection refused, code ${packet.returnCode}` : `answered with ${packet.cmd}`
}
