/** What a stranger with a network cable may try, against a whole daemon: each is turned away, and the log says so. */
import { mkdirSync, writeFileSync } from 'node:fs'
import { createServer, request } from 'node:http'
import { connect } from 'node:net'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { describe, expect, it, onTestFinished } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { freePort } from '../support/free-port.js'
import { client, closed, connected, publishBytes, quiet, socketTo, until } from '../receive/support.js'
import { createFakeApp } from '../show/fake-app.js'
import { message } from '../tell/support.js'
import { createWebhookWay } from '../../src/tell/ways/webhook.js'
import { type Running, runDaemon, testFolder } from './running.js'

const SECRETS = {
  'board-secret': 'lupine',
  'pump-secret': 'sagebrush-4471',
  'owner-secret': 'correct-horse-battery-4471',
  'viewer-secret': 'just-looking-4471',
  'hook-key': 'hook-signing-key-4471',
  'mail-password': 'mail-password-4471',
  'beat-key': 'beat-signing-key-4471',
  'uplink-password': 'uplink-password-4471',
}
const OWN = 'water/juniper/tank-board'

/** A site with accounts for all, secrets of every kind, and ways of telling that nobody answers. */
async function house(): Promise<Running> {
  const folder = testFolder()
  mkdirSync(join(folder, 'page', 'assets'), { recursive: true })
  writeFileSync(join(folder, 'page', 'index.html'), '<!doctype html><title>x</title>')
  return runDaemon(
    {
      site: { id: 'juniper', name: 'Juniper Bench', timezone: 'America/Denver' },
      boards: {
        'tank-board': { signals: { 'tank-level': {} } },
        'pump-board': { signals: { 'pump-current': {}, 'battery-voltage': {} } },
      },
      page: { open_on_loopback: false },
      accounts: {
        'tank-board': { role: 'board', secret_file: 'board-secret' },
        'pump-board': { role: 'board', secret_file: 'pump-secret' },
        ops: { role: 'owner', secret_file: 'owner-secret' },
        neighbour: { role: 'viewer', secret_file: 'viewer-secret' },
      },
      tell: {
        people: [{ name: 'ops', ways: ['hook', 'mail'] }],
        ways: {
          hook: { kind: 'webhook', url: 'http://127.0.0.1:9/', secret_file: 'hook-key' },
          mail: {
            kind: 'email',
            smtp: {
              host: '127.0.0.1',
              port: 9,
              secure: false,
              username: 'juniper',
              password_file: 'mail-password',
            },
            from: 'water@juniper.example',
            to: 'ops@town.example',
          },
        },
        self_test: 'never',
      },
      beat: { every: '1 min', url: 'http://127.0.0.1:9/beat', secret_file: 'beat-key' },
      uplink: { url: 'mqtt://127.0.0.1:9', username: 'juniper-uplink', password_file: 'uplink-password' },
    },
    {
      folder,
      files: SECRETS,
      pageDir: join(folder, 'page'),
      broker: { embedded: { host: '127.0.0.1', port: await freePort(), anonymous: false } },
    },
  )
}

const basic = (name: string, secret: string) => `Basic ${Buffer.from(`${name}:${secret}`).toString('base64')}`
const OPS = { authorization: basic('ops', SECRETS['owner-secret']) }

/** Waits until the log has a warning that holds all of these words. */
async function warned(running: Running, ...words: readonly string[]): Promise<void> {
  const has = () =>
    running.log.some(
      ({ level, words: said, fields }) => level === 'warn' && words.every((word) => `${said} ${fields}`.includes(word)),
    )
  await until(has, `a warning of ${words.join(', ')} in ${JSON.stringify(running.log)}`)
}

const samples = (running: Running): number => running.daemon.line.counts.samples

describe('at the broker', () => {
  it('a wrong topic, another board’s, a wildcard, a giant, a flood of passwords: each is cut off and logged', async () => {
    const running = await house()
    const { port } = running
    const asBoard = (options: object = {}) => client(port, { password: SECRETS['board-secret'], ...options })

    const wrong = await connected(asBoard())
    wrong.publish('water/juniper/tank-board/extra', 'x', { qos: 1 })
    await closed(wrong)
    await warned(running, 'refused (topic)', 'juniper/tank-board', 'extra', OWN)

    const other = await connected(asBoard())
    other.publish('water/juniper/pump-board', '[{"n":"pump-current","u":"A","v":99}]', { qos: 1 })
    await closed(other)

    const wild = await connected(asBoard())
    wild.stream.write(publishBytes('water/#', 'x'))
    await closed(wild)
    await warned(running, 'refused (protocol)')

    const giant = await connected(asBoard())
    giant.publish(OWN, Buffer.alloc(LIMITS.frameBytesMax + 1), { qos: 1 })
    await closed(giant)
    await warned(running, 'refused (frame-too-large)', 'tank-board')

    for (let i = 0; i <= LIMITS.loginTriesMax; i++) await closed(client(port, { password: `guess ${i}` }))
    await warned(running, 'refused (account)', 'tank-board')
    await warned(running, 'refused (too-many-tries)', 'tank-board')

    const refusals = await ask(running, 'GET', '/api/refused', OPS)
    expect(refusals.body).toContain('too-many-tries')
    // Lines of one kind come at most twice a minute; the page counts each.
    expect(refusals.body).toContain('water/juniper/pump-board; expected water/juniper/tank-board')
    expect(samples(running)).toBe(0)
  })

  it('a slow stranger is cut off while a board goes on being heard', { timeout: 30_000 }, async () => {
    const running = await house()
    const socket = await socketTo(running.port)
    const began = Date.now()
    // A CONNECT that says it is 100 bytes long, a byte of it each second.
    socket.write(Buffer.from([0x10, 100]))
    const drip = setInterval(() => socket.write(Buffer.from([0])), 1_000)
    const board = await connected(client(running.port, { password: SECRETS['board-secret'] }))
    await board.publishAsync(OWN, '[{"n":"tank-level","u":"m","v":0.95}]', { qos: 1 })
    expect(samples(running)).toBe(1)
    await closed(socket)
    clearInterval(drip)
    expect(Date.now() - began).toBeLessThan(LIMITS.connectTimeoutMs + 5_000)
    await warned(running, 'refused (protocol)')
  })
})

describe('at the page', () => {
  it('guessed passwords are stopped and logged, by sign-in and by the Basic header', async () => {
    const running = await house()
    const statuses: number[] = []
    for (let i = 0; i <= LIMITS.loginTriesMax; i++) {
      const body = JSON.stringify({ name: 'ops', secret: `guess ${i}` })
      statuses.push((await ask(running, 'POST', '/api/session', JSON_ACT, body)).status)
    }
    expect(statuses.slice(0, LIMITS.loginTriesMax).every((status) => status === 401)).toBe(true)
    expect(statuses.at(-1)).toBe(429)
    await warned(running, 'the page refused a request', '401', 'POST /api/session', '127.0.0.1')
    await warned(running, 'the page refused a request', '429')

    const byHeader: number[] = []
    for (let i = 0; i < LIMITS.loginTriesMax + 3; i++) {
      byHeader.push((await ask(running, 'GET', '/metrics', { authorization: basic('ops', `guess ${i}`) })).status)
    }
    expect(byHeader[0]).toBe(401)
    expect(byHeader.at(-1)).toBe(429)
    await warned(running, '429', 'GET /metrics')
    expect(JSON.stringify(running.log)).not.toContain('guess')
  })

  // What a page of another site can make a browser send with its cookies: forms, and requests without a preflight
  // (Fetch standard, "CORS-safelisted").
  it('a page of another site cannot act in the name of who is signed in', async () => {
    const running = await house()
    const signIn = await ask(
      running,
      'POST',
      '/api/session',
      JSON_ACT,
      JSON.stringify({ name: 'ops', secret: SECRETS['owner-secret'] }),
    )
    const cookie = String(signIn.cookie).split(';')[0] ?? ''
    expect(signIn.cookie).toMatch(/HttpOnly.*SameSite=Strict/)
    for (const [type, body] of FORGED) {
      const headers = { cookie, 'content-type': type, origin: 'https://evil.example' }
      expect((await ask(running, 'POST', '/api/season', headers, body)).status, type).toBe(403)
    }
    await warned(running, 'the page refused a request', '403', 'POST /api/season', 'x-sightglass-act')
    expect(running.daemon.store.modes.get('juniper').winterized).toBeNull()
    // Nor may its script ask first: no answer allows another origin.
    const preflight = await ask(running, 'OPTIONS', '/api/season', {
      origin: 'https://evil.example',
      'access-control-request-method': 'POST',
      'access-control-request-headers': 'x-sightglass-act',
    })
    expect(preflight.allowed).toBeUndefined()
    expect(preflight.status).toBeGreaterThanOrEqual(400)
  })

  it('no path leads out of the folder of the page', async () => {
    const running = await house()
    for (const path of OUTSIDE) {
      const answer = await raw(running, `GET ${path} HTTP/1.1\r\nhost: 127.0.0.1\r\nconnection: close\r\n\r\n`)
      expect(answer, path).toMatch(/^HTTP\/1\.1 4\d\d /)
      for (const secret of [...Object.values(SECRETS), 'root:', 'juniper']) expect(answer).not.toContain(secret)
    }
  })

  it('a request without end is cut off, and one that never ends its body has a time limit', async () => {
    const running = await house()
    const large = await ask(running, 'POST', '/api/journal', { ...JSON_ACT, ...OPS }, 'x'.repeat(300_000))
    expect([413, 0]).toContain(large.status)
    await warned(running, '413', 'POST /api/journal')
    const long = await raw(running, `GET /${'x'.repeat(100_000)} HTTP/1.1\r\nhost: x\r\n\r\n`)
    expect(long).toMatch(/^HTTP\/1\.1 4\d\d /)
    expect(createFakeApp().app.server.requestTimeout).toBe(LIMITS.requestTimeoutMs)
  })
})

describe('a webhook whose server turns bad', () => {
  it.each([301, 302, 303, 307, 308])('cannot send us into a network of ours by %i', async (status) => {
    const inside: string[] = []
    const inner = await listen((url) => {
      inside.push(url)
      return { status: 200 }
    })
    const outer = await listen(() => ({ status, location: `${inner}/secret` }))
    const way = createWebhookWay({ kind: 'webhook', id: 'hook', url: outer, secret: 'key' }, Date.now)
    const result = await way.send(message(), new AbortController().signal)
    await quiet()
    expect(result).toMatchObject({
      ok: false,
      retry: false,
      error: expect.stringContaining('redirects are not followed'),
    })
    expect(inside).toEqual([])
  })
})

describe('secrets', () => {
  it('stand in no log line and in no answer, whatever is asked, sent and refused', { timeout: 30_000 }, async () => {
    const running = await house()
    const { daemon, port } = running
    const board = await connected(client(port, { password: SECRETS['board-secret'] }))
    await board.publishAsync(OWN, '[{"n":"tank-level","u":"m","v":0.95}]', { qos: 1 })
    // A board that says its own password, as firmware under test does.
    await board.publishAsync(OWN, 'no senml', { qos: 1 })
    await closed(client(port, { username: 'pump-board', password: SECRETS['owner-secret'] }))
    await ask(running, 'GET', '/api/now', { authorization: basic('neighbour', SECRETS['owner-secret']) })
    await daemon.teller.test('juniper')

    const described = await ask(running, 'GET', '/api/openapi.json', OPS)
    const paths = Object.entries(JSON.parse(described.body).paths as Record<string, object>)
    const gets = paths.flatMap(([path, methods]) => ('get' in methods ? [path.replace('{role}', 'tank-level')] : []))
    expect(gets.length).toBeGreaterThan(12)
    const answers: string[] = []
    for (const path of [...gets.filter((one) => one !== '/api/events'), '/', '/metrics', '/ack/forged']) {
      const { status, body } = await ask(running, 'GET', path, OPS)
      // 503: nobody can be told, and health says so.
      expect([200, 404, ...(path === '/health' ? [503] : [])], path).toContain(status)
      answers.push(body)
    }
    const stored = daemon.store.secret('acknowledge-links')
    const hidden = [
      ...Object.values(SECRETS),
      ...Object.values(SECRETS).map((secret) => Buffer.from(secret).toString('base64')),
      basic('ops', SECRETS['owner-secret']).slice(6),
      stored.toString('hex'),
      stored.toString('base64'),
      stored.toString('base64url'),
      daemon.store.secret('web-push').toString('base64url'),
    ]
    const all = `${answers.join('\n')}\n${JSON.stringify(running.log)}`
    // Something was said at all, of every way that failed.
    expect(all).toMatch(/127\.0\.0\.1:9/)
    expect(hidden.filter((secret) => all.includes(secret))).toEqual([])
  })
})

const OUTSIDE = [
  '/../site.yaml',
  '/assets/../../site.yaml',
  '/%2e%2e/site.yaml',
  '/assets/%2e%2e/%2e%2e/owner-secret',
  '/..%2fowner-secret',
  '/..%5cowner-secret',
  '/%252e%252e/owner-secret',
  '//etc/passwd',
  '/assets/....//....//owner-secret',
  '/index.html%00.secret',
]

const FORGED = [
  ['application/x-www-form-urlencoded', 'winterized=true'],
  ['text/plain', '{"winterized":true}'],
  ['multipart/form-data; boundary=x', '--x\r\ncontent-disposition: form-data; name="winterized"\r\n\r\ntrue\r\n--x--'],
  ['application/json', '{"winterized":true}'],
] as const

const JSON_ACT = { 'content-type': 'application/json', 'x-sightglass-act': '1' }

type Answer = {
  readonly status: number
  readonly body: string
  readonly cookie: string | undefined
  readonly allowed: string | undefined
}

/** A request as it is, without a client's manners; status 0 when the connection ends without an answer. */
function ask(
  { page }: Running,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>> = {},
  body = '',
): Promise<Answer> {
  return new Promise((resolve) => {
    const sent = request(new URL(path, page), { method, headers, agent: false, timeout: 10_000 }, (response) => {
      let text = ''
      response.setEncoding('utf8').on('data', (piece: string) => {
        text += piece
      })
      response.on('end', () =>
        resolve({
          status: response.statusCode ?? 0,
          body: text,
          cookie: response.headers['set-cookie']?.[0],
          allowed: response.headers['access-control-allow-origin'],
        }),
      )
    })
    sent.on('error', () => resolve({ status: 0, body: '', cookie: undefined, allowed: undefined }))
    sent.end(body)
  })
}

/** These very bytes, and what comes back. */
function raw({ page }: Running, bytes: string): Promise<string> {
  return new Promise((resolve) => {
    const socket = connect(Number(new URL(page).port), '127.0.0.1')
    let text = ''
    socket.setEncoding('latin1').on('data', (piece: string) => {
      text += piece
    })
    socket.on('error', () => {})
    socket.on('close', () => resolve(text))
    socket.write(bytes, 'latin1')
  })
}

/** A web server on loopback. */
async function listen(answer: (url: string) => { status: number; location?: string }): Promise<string> {
  const server = createServer((incoming, response) => {
    incoming.resume()
    const { status, location } = answer(incoming.url ?? '')
    response.writeHead(status, location === undefined ? {} : { location }).end()
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  onTestFinished(() => {
    server.closeAllConnections()
    server.close()
  })
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`
}
