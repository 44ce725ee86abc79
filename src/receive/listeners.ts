import { readFileSync } from 'node:fs'
import { type AddressInfo, createServer, type Server, type Socket } from 'node:net'
import { createServer as createTlsServer } from 'node:tls'
import { LIMITS } from '../model/limits.js'
import type { BrokerSettings } from '../model/settings.js'
import { ReceiveError, wordsOf } from './receiver.js'
import type { ProbeTarget } from './self-probe.js'

type Embedded = Extract<BrokerSettings, { kind: 'embedded' }>

/** What is listened on: TCP, TLS, or both. TLS without a port of its own takes the place of TCP. */
export type Listeners = {
  readonly addresses: readonly ProbeTarget[]
  /** Stops listening and ends every socket. */
  close(): Promise<void>
}

export type Ports = { readonly plain: number; readonly tls: number }

export type SocketTaker = {
  readonly connectionsMax: number
  take(socket: Socket): void
  refuse(remote: string, why: 'too-many-connections' | 'protocol', words: string): void
  isLoopback(remote: string): boolean
}

/** Listens as the settings say; `ports` are the ones got before, where it listens again. Throws ReceiveError. */
export async function listen(settings: Embedded, ports: Ports | null, taker: SocketTaker): Promise<Listeners> {
  const sockets = new Set<Socket>()
  const onSocket = (socket: Socket): void => {
    const remote = socket.remoteAddress ?? ''
    // A few are kept for our own probe, which must not be shut out by a crowd.
    const room = taker.connectionsMax + (taker.isLoopback(remote) ? LIMITS.connectionsSpare : 0)
    if (sockets.size >= room) {
      taker.refuse(remote, 'too-many-connections', `${sockets.size} connections already`)
      socket.destroy()
      return
    }
    sockets.add(socket)
    socket.once('close', () => sockets.delete(socket))
    taker.take(socket)
  }
  const servers: { server: Server; port: number; tls: boolean }[] = []
  const { tls } = settings
  const socketOptions = { noDelay: true, keepAlive: true }
  if (tls === null || tls.port !== null)
    servers.push({ server: createServer(socketOptions, onSocket), port: ports?.plain ?? settings.port, tls: false })
  if (tls !== null) {
    const server = createTlsServer(
      {
        ...socketOptions,
        key: fileOf(tls.keyFile, 'key_file'),
        cert: fileOf(tls.certFile, 'cert_file'),
        minVersion: 'TLSv1.2',
        handshakeTimeout: LIMITS.connectTimeoutMs,
      },
      onSocket,
    )
    // Sockets still shaking hands are not counted above.
    server.maxConnections = taker.connectionsMax + LIMITS.connectionsSpare
    server.on('tlsClientError', (error, socket) => taker.refuse(socket.remoteAddress ?? '', 'protocol', wordsOf(error)))
    servers.push({ server, port: ports?.tls ?? tls.port ?? settings.port, tls: true })
  }
  const close = async (): Promise<void> => {
    const closed = servers.map(({ server }) => new Promise<void>((done) => server.close(() => done())))
    for (const socket of sockets) socket.destroy()
    await Promise.all(closed)
  }
  try {
    const addresses: ProbeTarget[] = []
    for (const { server, port, tls: secure } of servers)
      addresses.push({ host: reachable(settings.host), port: await bind(server, settings.host, port), tls: secure })
    return { addresses, close }
  } catch (error) {
    await close()
    throw error
  }
}

function bind(server: Server, host: string, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    const refuse = (cause: Error): void => {
      const hint = 'another program may hold the port, or the host is not an address of this machine'
      reject(new ReceiveError(`cannot listen on ${host}:${port}: ${cause.message}`, hint, cause))
    }
    server.once('error', refuse)
    server.listen({ host, port }, () => {
      server.off('error', refuse)
      // Errors of accepting (out of file descriptors) are not the end; the probe sees whether it still listens.
      server.on('error', () => {})
      resolve((server.address() as AddressInfo).port)
    })
  })
}

/** The address at which a listener of this host is reached from this machine. */
function reachable(host: string): string {
  if (host === '0.0.0.0' || host === '') return '127.0.0.1'
  return host === '::' ? '::1' : host
}

function fileOf(path: string, key: string): Buffer {
  try {
    return readFileSync(path)
  } catch (cause) {
    throw new ReceiveError(
      `broker.embedded.tls.${key}: ${wordsOf(cause)}`,
      'expected a PEM file that can be read',
      cause,
    )
  }
}
