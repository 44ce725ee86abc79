import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'

export type HookSink = {
  readonly url: string
  /** Every body taken, as JSON, in order. */
  readonly bodies: readonly Readonly<Record<string, unknown>>[]
  close(): void
}

/** A web server on loopback that takes every POST and keeps its body; on a free port unless one is given. */
export async function hookSink(port = 0): Promise<HookSink> {
  const bodies: Readonly<Record<string, unknown>>[] = []
  const server = createServer((request, response) => {
    let text = ''
    request.setEncoding('utf8').on('data', (piece: string) => {
      text += piece
    })
    request.on('end', () => {
      const body: unknown = JSON.parse(text)
      bodies.push(typeof body === 'object' && body !== null ? { ...body } : { body })
      response.writeHead(204).end()
    })
    request.on('error', () => {})
  })
  await new Promise<void>((resolve) => server.listen(port, '127.0.0.1', resolve))
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/water`,
    bodies,
    close() {
      server.closeAllConnections()
      server.close()
    },
  }
}
