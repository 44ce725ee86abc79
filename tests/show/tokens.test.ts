import { afterEach, describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { ACT, createFakeApp, type FakeApp, signIn } from './fake-app.js'
import { OWNER, VIEWER } from './fake-source.js'

const open: FakeApp[] = []
function made(changes: Parameters<typeof createFakeApp>[0] = { access: 'accounts' }): FakeApp {
  const app = createFakeApp(changes)
  open.push(app)
  return app
}
afterEach(async () => {
  for (const one of open.splice(0)) await one.app.close()
})

async function make(fake: FakeApp, payload: object) {
  const cookie = await signIn(fake.app, OWNER)
  return fake.app.inject({ method: 'POST', url: '/api/tokens', headers: { ...ACT, cookie }, payload })
}
const bearer = (text: string) => ({ authorization: `Bearer ${text}` })

describe('a token that an owner has made for a script', () => {
  it('is shown once, reads, and acts only where it is an owner’s, by its own name', async () => {
    const fake = made()
    const reads = await make(fake, { name: 'collector' })
    expect(reads.statusCode).toBe(201)
    expect(reads.json()).toMatchObject({ name: 'collector', role: 'viewer', made_by: OWNER.name, until: null })
    const { token } = reads.json()
    expect((await fake.app.inject({ url: '/metrics', headers: bearer(token) })).statusCode).toBe(200)
    const away = { method: 'POST', url: '/api/away', payload: { away: true } } as const
    expect((await fake.app.inject({ ...away, headers: { ...ACT, ...bearer(token) } })).statusCode).toBe(403)

    const acts = (await make(fake, { name: 'gate', role: 'owner', until: '2036-01-01T00:00:00Z' })).json().token
    expect((await fake.app.inject({ ...away, headers: bearer(acts) })).statusCode).toBe(403)
    expect((await fake.app.inject({ ...away, headers: { ...ACT, ...bearer(acts) } })).statusCode).toBe(200)
    expect(fake.source.acts.at(-1)).toBe('away juniper true token gate')

    const cookie = await signIn(fake.app, OWNER)
    const listed = await fake.app.inject({ url: '/api/tokens', headers: { cookie } })
    expect(listed.json().rows.map((row: { name: string }) => row.name)).toEqual(['collector', 'gate'])
    expect(listed.body).not.toContain(token)
  })

  it('is good for nothing once it is revoked', async () => {
    const fake = made()
    const { token } = (await make(fake, { name: 'collector' })).json()
    const cookie = await signIn(fake.app, OWNER)
    const revoke = { method: 'DELETE', url: '/api/tokens/collector', headers: { ...ACT, cookie } } as const
    expect((await fake.app.inject(revoke)).statusCode).toBe(200)
    expect((await fake.app.inject(revoke)).statusCode).toBe(404)
    const answer = await fake.app.inject({ url: '/api/now', headers: bearer(token) })
    expect(answer.statusCode).toBe(401)
    // RFC 6750, section 3.1.
    expect(answer.headers['www-authenticate']).toContain('error="invalid_token"')
  })

  it('cannot make others, so that a stolen one ends when it is to end', async () => {
    const fake = made()
    const { token } = (await make(fake, { name: 'gate', role: 'owner' })).json()
    const headers = { ...ACT, ...bearer(token) }
    const more = await fake.app.inject({ method: 'POST', url: '/api/tokens', headers, payload: { name: 'more' } })
    expect(more.statusCode).toBe(403)
    expect(fake.source.tokensOf.size).toBe(1)
  })

  it.each([
    [{ name: '' }, 'name'],
    [{ name: 'a\nb' }, 'name'],
    [{ name: 'x', role: 'board' }, 'role'],
    [{ name: 'x', until: '2020-01-01T00:00:00Z' }, 'until'],
    [{ name: 'x', until: 'soon' }, 'until'],
  ])('is not made of wrong words: %j', async (payload, field) => {
    const answer = await make(made(), payload)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe(field)
  })

  it('is made under a name once, and by owners alone', async () => {
    const fake = made()
    await make(fake, { name: 'collector' })
    expect((await make(fake, { name: 'collector' })).statusCode).toBe(409)
    const cookie = await signIn(fake.app, VIEWER)
    for (const [method, url] of [
      ['GET', '/api/tokens'],
      ['POST', '/api/tokens'],
      ['DELETE', '/api/tokens/collector'],
    ] as const) {
      const payload = method === 'POST' ? { payload: { name: 'mine' } } : {}
      expect((await fake.app.inject({ method, url, headers: { ...ACT, cookie }, ...payload })).statusCode).toBe(403)
      expect((await fake.app.inject({ method, url, headers: ACT, ...payload })).statusCode).toBe(401)
    }
  })

  it('that is guessed is stopped like a password, and good ones go on working beside the guesser', async () => {
    const fake = made()
    const { token } = (await make(fake, { name: 'collector' })).json()
    const codes = []
    for (let n = 0; n < LIMITS.loginTriesMax + 2; n += 1) {
      codes.push((await fake.app.inject({ url: '/api/now', headers: bearer(`sightglass_guess_${n}`) })).statusCode)
    }
    expect(codes[0]).toBe(401)
    expect(codes.at(-1)).toBe(429)
    expect((await fake.app.inject({ url: '/api/now', headers: bearer(token) })).statusCode).toBe(200)
  })

  it('is held to where nobody needs one', async () => {
    const fake = made({ access: 'open' })
    expect((await fake.app.inject({ url: '/api/now', headers: bearer('sightglass_guess') })).statusCode).toBe(401)
  })
})
