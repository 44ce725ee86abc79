/** Against a push service of our own on loopback, and a decoder of RFC 8291 that is not ours (http_ece). */
import { createECDH, createPublicKey, createVerify, randomBytes } from 'node:crypto'
import { createServer, type IncomingHttpHeaders } from 'node:http'
import { createRequire } from 'node:module'
import type { AddressInfo } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { browserGone } from '../../src/tell/browser-gone.js'
import { stableId } from '../../src/tell/key.js'
import { type Browser, createWebPushWay, pushKeys } from '../../src/tell/ways/web-push.js'
import { AFTERNOON, message, siteSettings, tellSettings } from './support.js'

type Decoder = { decrypt(body: Buffer, params: object): Buffer }
const reference = createRequire(import.meta.url)('http_ece') as Decoder

const SECRET = Buffer.alloc(32, 7)
const KEYS = pushKeys(SECRET)
const closers: (() => void)[] = []
afterEach(() => {
  for (const close of closers.splice(0)) close()
})

type Seen = { readonly path: string; readonly headers: IncomingHttpHeaders; readonly body: Buffer }

/** A push service: answers each path with the status in it. */
async function service() {
  const seen: Seen[] = []
  const server = createServer((request, response) => {
    const pieces: Buffer[] = []
    request.on('data', (piece: Buffer) => pieces.push(piece))
    request.on('end', () => {
      const path = request.url ?? ''
      seen.push({ path, headers: request.headers, body: Buffer.concat(pieces) })
      response.writeHead(Number(/(\d{3})/.exec(path)?.[1] ?? 201), { location: '/elsewhere-201' }).end()
    })
  })
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  closers.push(() => {
    server.closeAllConnections()
    server.close()
  })
  return { seen, at: `http://127.0.0.1:${(server.address() as AddressInfo).port}` }
}

/** A browser's side of a subscription: its keys, and what its push service would hand it. */
function browser(endpoint: string) {
  const pair = createECDH('prime256v1')
  pair.generateKeys()
  const auth = randomBytes(16)
  const subscription: Browser = {
    endpoint,
    p256dh: pair.getPublicKey('base64url'),
    auth: auth.toString('base64url'),
  }
  const open = (body: Buffer): unknown =>
    JSON.parse(reference.decrypt(body, { version: 'aes128gcm', privateKey: pair, authSecret: auth }).toString('utf8'))
  return { subscription, open }
}

function way(browsers: readonly Browser[]) {
  const gone: string[] = []
  const made = createWebPushWay(
    { kind: 'web-push', id: 'push-1', contact: 'mailto:owner@example.org' },
    {
      keys: KEYS,
      browsers: { list: () => browsers, gone: (_site, _person, _way, endpoint) => gone.push(endpoint) },
      now: () => AFTERNOON,
    },
  )
  return { gone, send: () => made.send(message(), new AbortController().signal) }
}

describe('telling by web push', () => {
  it('reaches a browser in words that only this browser can read (RFC 8291)', async () => {
    const { at, seen } = await service()
    const one = browser(`${at}/b-201`)
    expect(await way([one.subscription]).send()).toEqual({ ok: true })
    const { headers, body } = seen[0] ?? { headers: {}, body: Buffer.alloc(0) }
    expect(headers).toMatchObject({ 'content-encoding': 'aes128gcm', ttl: String(48 * 3_600), urgency: 'high' })
    const { key, subject, short } = message()
    expect(one.open(body)).toMatchObject({ version: 1, id: stableId(key), site: 'juniper', subject, short })
    expect(body.includes(subject)).toBe(false)
    expect(() => browser('x').open(body)).toThrow()
  })

  it('is signed with the key that the browser was given (RFC 8292: a JWT of ES256 for the service alone)', async () => {
    const { at, seen } = await service()
    await way([browser(`${at}/b-201`).subscription]).send()
    const [, token = '', key = ''] = /^vapid t=([^,]+), ?k=(.+)$/.exec(seen[0]?.headers.authorization ?? '') ?? []
    expect(key).toBe(KEYS.publicKey)
    const [head = '', claims = '', signature = ''] = token.split('.')
    const said = JSON.parse(Buffer.from(claims, 'base64url').toString('utf8')) as Record<string, unknown>
    expect(said).toMatchObject({ aud: at, sub: 'mailto:owner@example.org' })
    const point = Buffer.from(KEYS.publicKey, 'base64url')
    const jwk = {
      kty: 'EC',
      crv: 'P-256',
      x: point.subarray(1, 33).toString('base64url'),
      y: point.subarray(33).toString('base64url'),
    }
    const verify = createVerify('SHA256').update(`${head}.${claims}`)
    const publicKey = createPublicKey({ key: jwk, format: 'jwk' })
    expect(verify.verify({ key: publicKey, dsaEncoding: 'ieee-p1363' }, Buffer.from(signature, 'base64url'))).toBe(true)
  })

  it.each([404, 410])(
    'believes a service that says %i: the browser is gone, and is not asked again',
    async (status) => {
      const { at } = await service()
      const { send, gone } = way([browser(`${at}/b-${status}`).subscription])
      expect(await send()).toMatchObject({ ok: false, retry: false })
      expect(gone).toEqual([`${at}/b-${status}`])
    },
  )

  it.each([401, 403, 429, 500, 503])('keeps a browser whose service says %i, and tries again', async (status) => {
    const { at } = await service()
    const { send, gone } = way([browser(`${at}/b-${status}`).subscription])
    expect(await send()).toMatchObject({ ok: false, retry: true, wholeWay: true })
    expect(gone).toEqual([])
  })

  it.each([400, 413, 302])('gives up on %i, keeps the browser and follows no redirect', async (status) => {
    const { at, seen } = await service()
    const { send, gone } = way([browser(`${at}/b-${status}`).subscription])
    expect(await send()).toMatchObject({ ok: false, retry: false })
    expect(gone).toEqual([])
    expect(seen).toHaveLength(1)
  })

  it('has told the person when one of their browsers took it, and lets go of the one that is gone', async () => {
    const { at } = await service()
    const { send, gone } = way([browser(`${at}/a-410`).subscription, browser(`${at}/b-201`).subscription])
    expect(await send()).toEqual({ ok: true })
    expect(gone).toEqual([`${at}/a-410`])
  })

  it('says so where no browser has asked, where the service is not there, and where the keys are none', async () => {
    expect(await way([]).send()).toMatchObject({ ok: false, retry: false, error: expect.stringMatching(/no browser/) })
    const nowhere = browser('http://127.0.0.1:9/b').subscription
    expect(await way([nowhere]).send()).toMatchObject({ ok: false, retry: true })
    const broken = { endpoint: 'http://127.0.0.1:9/b', p256dh: 'AAAA', auth: 'BBBB' }
    expect(await way([broken]).send()).toMatchObject({ ok: false, retry: false })
  })

  it('has the same key pair as long as the store has its secret', () => {
    expect(pushKeys(SECRET)).toEqual(KEYS)
    expect(pushKeys(Buffer.alloc(32, 8)).publicKey).not.toBe(KEYS.publicKey)
    expect(Buffer.from(KEYS.publicKey, 'base64url')).toHaveLength(65)
  })
})

describe('a browser that is gone', () => {
  it('is told of once, by the other ways of the person', () => {
    const site = siteSettings({
      tell: tellSettings({ people: [{ name: 'ops', ways: ['push-1', 'mail-1'], quiet: null, least: 'medium' }] }),
    })
    const gone = { person: 'ops', way: 'push-1', endpoint: 'https://push.example/1' }
    const messages = browserGone(site, gone, AFTERNOON)
    expect(messages.map(({ way: by, kind }) => [by, kind])).toEqual([['mail-1', 'service']])
    expect(messages[0]?.subject).toContain('no longer gets alarms')
    expect(browserGone(site, gone, AFTERNOON + 1)[0]?.key).toBe(messages[0]?.key)
  })
})
