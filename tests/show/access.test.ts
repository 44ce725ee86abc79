import { afterEach, describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { DAY } from '../../src/model/time.js'
import { isLoopbackHost } from '../../src/show/access/guard.js'
import { createSessions } from '../../src/show/access/sessions.js'
import { ACT, createFakeApp, type FakeApp, signIn } from './fake-app.js'
import { OWNER, VIEWER } from './fake-source.js'

const open: FakeApp[] = []

function withAccounts(changes: Parameters<typeof createFakeApp>[0] = {}): FakeApp {
  const made = createFakeApp({ access: 'accounts', ...changes })
  open.push(made)
  return made
}

afterEach(async () => {
  for (const one of open.splice(0)) await one.app.close()
})

const GUARDED = [
  ['GET', '/api/now'],
  ['GET', '/api/series/tank-level'],
  ['GET', '/api/cycles'],
  ['GET', '/api/days'],
  ['GET', '/api/alarms'],
  ['GET', '/api/journal'],
  ['GET', '/api/refused'],
  ['GET', '/api/events'],
  ['GET', '/api/session'],
  ['GET', '/api/openapi.json'],
  ['GET', '/metrics'],
  ['POST', '/api/alarms/dry-well:well/acknowledge'],
  ['POST', '/api/alarms/dry-well:well/shelve'],
  ['POST', '/api/journal'],
  ['POST', '/api/away'],
  ['POST', '/api/season'],
  ['POST', '/api/maintenance'],
] as const

const ACTS: readonly (readonly [string, unknown])[] = [
  ['/api/alarms/dry-well:well/acknowledge', undefined],
  ['/api/alarms/dry-well:well/shelve', { minutes: 30, reason: 'at work on it' }],
  ['/api/journal', { text: 'new pump', new_baseline: true }],
  ['/api/away', { away: true }],
  ['/api/season', { winterized: true }],
  ['/api/maintenance', { minutes: 60 }],
]

describe('without a session', () => {
  it.each(GUARDED)('%s %s is 401', async (method, url) => {
    const { app, source } = withAccounts()
    const answer = await app.inject({ method, url, headers: ACT })
    expect(answer.statusCode).toBe(401)
    expect(answer.headers['www-authenticate']).not.toMatch(/basic/i)
    expect(source.acts).toEqual([])
  })

  it('health and the acknowledging link answer all the same', async () => {
    const { app } = withAccounts()
    expect((await app.inject('/health')).statusCode).toBe(200)
    expect((await app.inject('/ack/good-token.tag')).statusCode).toBe(200)
  })

  it('an invented or ended session is 401', async () => {
    const { app } = withAccounts()
    expect((await app.inject({ url: '/api/now', headers: { cookie: 'sightglass=abc' } })).statusCode).toBe(401)
    const cookie = await signIn(app, OWNER)
    expect((await app.inject({ url: '/api/now', headers: { cookie } })).statusCode).toBe(200)
    expect((await app.inject({ method: 'DELETE', url: '/api/session', headers: { ...ACT, cookie } })).statusCode).toBe(
      204,
    )
    expect((await app.inject({ url: '/api/now', headers: { cookie } })).statusCode).toBe(401)
  })
})

describe('signing in', () => {
  it('sets a cookie that scripts and other sites cannot use', async () => {
    const { app } = withAccounts()
    const answer = await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload: OWNER })
    expect(answer.json()).toEqual({ name: OWNER.name, role: 'owner' })
    expect(answer.cookies[0]).toMatchObject({ name: 'sightglass', httpOnly: true, sameSite: 'Strict', path: '/' })
    expect(answer.cookies[0]?.value).toMatch(/^[0-9a-f]{64}$/)
  })

  it('refuses a wrong secret, an unknown name and a board’s account with the same words', async () => {
    const { app } = withAccounts()
    const bodies = []
    for (const payload of [
      { name: OWNER.name, secret: 'wrong' },
      { name: 'nobody', secret: 'wrong' },
      { name: 'tank-board', secret: 'board secret' },
    ]) {
      const answer = await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload })
      expect(answer.statusCode).toBe(401)
      bodies.push(answer.body)
    }
    expect(new Set(bodies).size).toBe(1)
  })

  it('names the field that is missing', async () => {
    const { app } = withAccounts()
    const answer = await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload: { name: 'ops' } })
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe('secret')
  })

  it('answers 429 after too many tries, without asking for the hash again', async () => {
    const { app, source } = withAccounts()
    const payload = { name: OWNER.name, secret: 'wrong' }
    for (let n = 0; n < LIMITS.loginTriesMax; n += 1) {
      expect((await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload })).statusCode).toBe(401)
    }
    const answer = await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload: OWNER })
    expect(answer.statusCode).toBe(429)
    expect(answer.json().error).toContain('Too many tries')
    expect(answer.headers['retry-after']).toBeDefined()
    expect(source.verifications).toBe(LIMITS.loginTriesMax)
  })
})

describe('HTTP Basic for scripts', () => {
  const basic = (name: string, secret: string) => `Basic ${Buffer.from(`${name}:${secret}`).toString('base64')}`

  it('reads and acts, and hashes only once in a while', async () => {
    const { app, source } = withAccounts()
    const authorization = basic(OWNER.name, OWNER.secret)
    for (let n = 0; n < 5; n += 1) {
      expect((await app.inject({ url: '/metrics', headers: { authorization } })).statusCode).toBe(200)
    }
    expect(source.verifications).toBe(1)
  })

  it('is bounded like signing in: 429 after too many wrong secrets', async () => {
    const { app, source } = withAccounts()
    const codes = []
    for (let n = 0; n < LIMITS.loginTriesMax + 3; n += 1) {
      const authorization = basic(OWNER.name, `wrong ${n}`)
      codes.push((await app.inject({ url: '/metrics', headers: { authorization } })).statusCode)
    }
    expect(codes.slice(0, 5)).toEqual([401, 401, 401, 401, 401])
    expect(codes.at(-1)).toBe(429)
    expect(source.verifications).toBeLessThanOrEqual(LIMITS.loginTriesMax + 1)
  })
})

describe('a viewer', () => {
  it.each(ACTS)('may look but not act: POST %s is 403', async (url, payload) => {
    const { app, source } = withAccounts()
    const cookie = await signIn(app, VIEWER)
    expect((await app.inject({ url: '/api/now', headers: { cookie } })).json().you.role).toBe('viewer')
    const answer = await app.inject({ method: 'POST', url, headers: { ...ACT, cookie }, payload: payload as object })
    expect(answer.statusCode).toBe(403)
    expect(source.acts).toEqual([])
  })
})

describe('a request that acts', () => {
  it.each(ACTS)('without the act header is refused: POST %s', async (url, payload) => {
    const { app, source } = withAccounts()
    const cookie = await signIn(app, OWNER)
    const answer = await app.inject({ method: 'POST', url, headers: { cookie }, payload: payload as object })
    expect(answer.statusCode).toBe(403)
    expect(answer.json().field).toBe('x-sightglass-act')
    expect(source.acts).toEqual([])
  })
})

describe('sessions', () => {
  it('end at once when the account is taken away', async () => {
    const { app, source } = withAccounts()
    const cookie = await signIn(app, VIEWER)
    source.accounts.delete(VIEWER.name)
    expect((await app.inject({ url: '/api/now', headers: { cookie } })).statusCode).toBe(401)
  })

  it('end when they are idle for too long, and when they are old', async () => {
    const { app, source } = withAccounts()
    const cookie = await signIn(app, OWNER)
    source.clock += LIMITS.sessionIdleMaxMs + 1
    expect((await app.inject({ url: '/api/now', headers: { cookie } })).statusCode).toBe(401)
    const second = await signIn(app, OWNER)
    const codes = []
    for (let used = 0; used <= LIMITS.sessionAgeMaxMs; used += 5 * DAY) {
      source.clock += 5 * DAY
      codes.push((await app.inject({ url: '/api/now', headers: { cookie: second } })).statusCode)
    }
    expect(codes[0]).toBe(200)
    expect(codes.at(-1)).toBe(401)
  })

  it('are bounded: the one that was used longest ago goes', () => {
    let n = 0
    const sessions = createSessions((count) => {
      n += 1
      return Uint8Array.from({ length: count }, (_, i) => (i < 4 ? (n >> (8 * i)) & 255 : 7))
    })
    const ids = Array.from({ length: LIMITS.sessionsMax }, (_, i) => sessions.begin(`p${i}`, i))
    expect(sessions.find(ids[0] ?? '', 1000)).toBe('p0')
    sessions.begin('late', 2000)
    expect(sessions.size()).toBe(LIMITS.sessionsMax)
    expect(sessions.find(ids[0] ?? '', 2000)).toBe('p0')
    expect(sessions.find(ids[1] ?? '', 2000)).toBeNull()
  })
})

describe('open access', () => {
  it('is the owner without signing in', async () => {
    const { app, source } = createFakeApp()
    const answer = await app.inject({ method: 'POST', url: '/api/away', headers: ACT, payload: { away: true } })
    expect(answer.statusCode).toBe(200)
    expect(source.acts).toEqual(['away juniper true owner'])
    await app.close()
  })

  it('holds whoever gives a name and a password to them', async () => {
    const { app } = createFakeApp()
    const as = async (words: string) =>
      (
        await app.inject({
          url: '/api/now',
          headers: { authorization: `Basic ${Buffer.from(words).toString('base64')}` },
        })
      ).statusCode
    expect(await as('ops:wrong')).toBe(401)
    expect(await as('nobody:right')).toBe(401)
    expect((await app.inject('/api/now')).statusCode).toBe(200)
    await app.close()
  })

  it('answers only to names of the machine itself, so that no page can point its own name here', async () => {
    const { app } = createFakeApp()
    expect((await app.inject({ url: '/api/now', headers: { host: 'evil.example:8180' } })).statusCode).toBe(403)
    expect((await app.inject({ url: '/api/now', headers: { host: '127.0.0.1:8180' } })).statusCode).toBe(200)
    await app.close()
    expect(['localhost', 'localhost:8180', '[::1]:8180', '127.0.0.1'].every(isLoopbackHost)).toBe(true)
    expect(['127.0.0.1.example.org', 'localhost.example.org', '10.0.0.1', undefined].some(isLoopbackHost)).toBe(false)
  })

  it.each(['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-real-ip'])(
    'refuses what a proxy passes on from elsewhere with %s, though the host is its own',
    async (header) => {
      const { app } = createFakeApp()
      const answer = await app.inject({ url: '/api/now', headers: { host: '127.0.0.1:8180', [header]: '192.0.2.7' } })
      await app.close()
      expect(answer.statusCode).toBe(403)
      expect(answer.json()).toMatchObject({ expected: expect.stringContaining('open_on_loopback: false') })
    },
  )
})
