import { createHmac } from 'node:crypto'
import { createServer, type IncomingHttpHeaders, type RequestListener, type Server } from 'node:http'
import type { AddressInfo } from 'node:net'
import { createServer as createTcpServer } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { HOUR, MINUTE } from '../../src/model/time.js'
import { afterTimeout, attempt } from '../../src/tell/attempt.js'
import { stableId } from '../../src/tell/key.js'
import { createWebhookWay, retryAfterMs } from '../../src/tell/ways/webhook.js'
import { AFTERNOON, HOOK, message } from './support.js'

const SECRET = 'a shared secret'
const servers: { close(): unknown }[] = []

afterEach(() => {
  for (const server of servers.splice(0)) server.close()
})

type Seen = { readonly path: string | undefined; readonly headers: IncomingHttpHeaders; readonly body: string }

/** A real server on loopback; `answer` is called when the whole request has come. */
async function listen(answer: RequestListener): Promise<{ url: string; seen: Seen[]; server: Server }> {
  const seen: Seen[] = []
  const server = createServer((request, response) => {
    const pieces: Buffer[] = []
    request.on('data', (piece: Buffer) => pieces.push(piece))
    request.on('end', () => {
      seen.push({ path: request.url, headers: request.headers, body: Buffer.concat(pieces).toString('utf8') })
      answer(request, response)
    })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  servers.push({
    close() {
      server.closeAllConnections()
      server.close()
    },
  })
  return { url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/told`, seen, server }
}

function way(url: string) {
  return createWebhookWay({ ...HOOK, kind: 'webhook', url, secret: SECRET }, () => AFTERNOON)
}

const send = (url: string, deadlineMs = 5_000) => attempt(way(url), message(), afterTimeout, deadlineMs)

describe('a webhook', () => {
  it('posts the message as JSON', async () => {
    const { url, seen } = await listen((_, response) => response.writeHead(204).end())
    expect(await send(url)).toEqual({ ok: true })
    expect(seen[0]?.headers['content-type']).toBe('application/json; charset=utf-8')
    const { key, subject, text, short } = message()
    expect(JSON.parse(seen[0]?.body ?? '')).toEqual({
      version: 1,
      id: stableId(key),
      kind: 'alarm',
      site: 'juniper',
      person: 'ops',
      alarm: 'dry-well:',
      priority: 'high',
      at: '2026-02-03T21:05:00.000Z',
      subject,
      text,
      short,
    })
  })

  it('signs time and body so that the receiver can work the signature out', async () => {
    const { url, seen } = await listen((_, response) => response.end())
    await send(url)
    const headers = seen[0]?.headers ?? {}
    const body = seen[0]?.body ?? ''
    const timestamp = String(headers['sightglass-timestamp'])
    expect(Number(timestamp)).toBe(AFTERNOON / 1_000)
    const expected = createHmac('sha256', SECRET).update(timestamp).update('.').update(body).digest('hex')
    expect(headers['sightglass-signature']).toBe(`sha256=${expected}`)
  })

  it('gives each repeat the same idempotency key', async () => {
    const { url, seen } = await listen((_, response) => response.writeHead(500).end())
    await send(url)
    await send(url)
    const keys = seen.map(({ headers }) => headers['idempotency-key'])
    expect(keys).toEqual([`"${stableId(message().key)}"`, `"${stableId(message().key)}"`])
  })

  it('does not follow a redirect', async () => {
    const { url, seen } = await listen((_, response) => response.writeHead(307, { location: '/elsewhere' }).end())
    expect(await send(url)).toMatchObject({ ok: false, retry: false, error: expect.stringContaining('redirect') })
    expect(seen.map(({ path }) => path)).toEqual(['/told'])
  })

  it.each([
    [200, { ok: true }],
    [202, { ok: true }],
    [400, { ok: false, retry: false, wholeWay: false }],
    [401, { ok: false, retry: false, wholeWay: false }],
    [404, { ok: false, retry: false, wholeWay: false }],
    [410, { ok: false, retry: false, wholeWay: false }],
    [408, { ok: false, retry: true, wholeWay: true }],
    [429, { ok: false, retry: true, wholeWay: true }],
    [500, { ok: false, retry: true, wholeWay: true }],
    [503, { ok: false, retry: true, wholeWay: true }],
  ])('takes an answer of %i as it is meant', async (status, expected) => {
    const { url } = await listen((_, response) => response.writeHead(status).end())
    expect(await send(url)).toMatchObject(expected)
  })

  it('waits as long as it is asked to', async () => {
    const { url } = await listen((_, response) => response.writeHead(429, { 'retry-after': '600' }).end())
    expect(await send(url)).toMatchObject({ ok: false, retry: true, waitMs: 10 * MINUTE })
  })

  it('is content with the status, however slow the body is', async () => {
    const { url } = await listen((_, response) => {
      response.writeHead(200)
      response.write('a') // and never the end
    })
    const began = performance.now()
    expect(await send(url)).toEqual({ ok: true })
    expect(performance.now() - began).toBeLessThan(2_000)
  })

  it('is cut off by the deadline where the server never answers, and lets the connection go', async () => {
    let open = 0
    const { url, server } = await listen(() => {})
    const closed = new Promise<void>((resolve) => {
      server.on('connection', (socket) => {
        open += 1
        socket.on('close', () => {
          open -= 1
          resolve()
        })
      })
    })
    expect(await send(url, 150)).toMatchObject({ ok: false, retry: true, wholeWay: true })
    await closed
    expect(open).toBe(0)
  })

  it('reports a refused connection, a cut one and an answer that is not HTTP', async () => {
    const gone = await listen(() => {})
    await new Promise((resolve) => gone.server.close(resolve))
    expect(await send(gone.url)).toMatchObject({
      ok: false,
      retry: true,
      wholeWay: true,
      error: expect.stringMatching(/ECONNREFUSED/),
    })

    for (const answer of ['', 'HELLO\r\n\r\n']) {
      const server = createTcpServer((socket) => socket.once('data', () => socket.end(answer)))
      await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
      servers.push(server)
      const result = await send(`http://127.0.0.1:${(server.address() as AddressInfo).port}/`)
      expect(result).toMatchObject({ ok: false, retry: true, wholeWay: true })
    }
  })

  it('never tells its secret in an error', async () => {
    for (const status of [302, 401, 500]) {
      const { url } = await listen((_, response) => response.writeHead(status).end())
      expect(JSON.stringify(await send(url))).not.toContain(SECRET)
    }
  })

  it('goes only where the web is', async () => {
    expect(await send('file:///etc/hostname')).toMatchObject({ ok: false, retry: false })
    expect(await send('no address')).toMatchObject({ ok: false, retry: false })
  })
})

describe('Retry-After', () => {
  // RFC 9110, section 10.2.3: a number of seconds or an HTTP date.
  it.each([
    ['120', 2 * MINUTE],
    ['Tue, 03 Feb 2026 21:15:00 GMT', 10 * MINUTE],
    ['Tue, 03 Feb 2026 20:00:00 GMT', 0],
    ['99999999', 6 * HOUR],
    ['soon', undefined],
    ['', undefined],
    [undefined, undefined],
  ])('of %j', (header, expected) => {
    expect(retryAfterMs(header, AFTERNOON)).toBe(expected)
  })
})
