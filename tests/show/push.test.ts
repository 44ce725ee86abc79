import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { ACT, createFakeApp, type FakeApp } from './fake-app.js'

let fake: FakeApp
beforeEach(() => {
  fake = createFakeApp()
})
afterEach(() => fake.app.close())

const ENDPOINT = 'https://push.example.org/b/1'
const KEYS = { p256dh: 'B'.repeat(87), auth: 'a'.repeat(22) }

function ask(changes: object = {}, subscription: object = {}) {
  const payload = {
    person: 'ops',
    way: 'push-1',
    subscription: { endpoint: ENDPOINT, expirationTime: null, keys: KEYS, ...subscription },
    ...changes,
  }
  return fake.app.inject({ method: 'POST', url: '/api/push', headers: ACT, payload })
}

describe('a browser that asks to be told', () => {
  it('is given the key and who can be told', async () => {
    const answer = await fake.app.inject('/api/push')
    expect(answer.json()).toEqual({
      public_key: 'B'.repeat(87),
      people: [{ person: 'ops', way: 'push-1', browsers: 1 }],
    })
  })

  it('is written down for its person, and let go again', async () => {
    expect((await ask()).json()).toEqual({ done: true })
    const payload = { endpoint: ENDPOINT }
    const gone = await fake.app.inject({ method: 'DELETE', url: '/api/push', headers: ACT, payload })
    expect(gone.json()).toEqual({ done: true })
    expect(fake.source.acts).toEqual([`browser juniper ops push-1 ${ENDPOINT} owner`, `no browser ${ENDPOINT}`])
  })

  it('is refused where the person has no such way', async () => {
    expect((await ask({ person: 'somebody' })).statusCode).toBe(400)
    expect((await ask({ way: 'mail-1' })).json().field).toBe('way')
  })

  // What is posted to these would be a request of ours into somebody's own network.
  it.each([
    'http://push.example.org/b',
    'https://127.0.0.1/b',
    'https://localhost/b',
    'https://10.1.2.3/b',
    'https://192.168.1.1/b',
    'https://172.20.0.1/b',
    'https://169.254.169.254/latest',
    'https://[::1]/b',
    'https://2130706433/b',
    'https://0x7f000001/b',
    'https://printer.local/b',
    'https://localhost./b',
    'https://printer.local./b',
    'https://100.64.0.1/b',
    'ftp://push.example.org/b',
    'not an address',
  ])('is refused as %s', async (endpoint) => {
    const answer = await ask({}, { endpoint })
    expect(answer.statusCode).toBe(400)
    expect(fake.source.acts).toEqual([])
  })

  it.each([
    { p256dh: 'short', auth: KEYS.auth },
    { p256dh: KEYS.p256dh, auth: '' },
    { p256dh: `${'B'.repeat(86)}<`, auth: KEYS.auth },
  ])('is refused with keys that are none', async (keys) => {
    expect((await ask({}, { keys })).statusCode).toBe(400)
  })

  it('must carry the act header, which a page of another site cannot send', async () => {
    const payload = { person: 'ops', way: 'push-1', subscription: { endpoint: ENDPOINT, keys: KEYS } }
    const answer = await fake.app.inject({ method: 'POST', url: '/api/push', payload })
    expect(answer.statusCode).toBe(403)
  })
})
