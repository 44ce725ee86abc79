import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { MINUTE } from '../../src/model/time.js'
import { ACT, createFakeApp, type FakeApp } from './fake-app.js'
import { NOW } from './fake-site.js'

let fake: FakeApp

beforeEach(() => {
  fake = createFakeApp()
})
afterEach(() => fake.app.close())

function post(url: string, payload?: object, headers: Record<string, string> = ACT) {
  return fake.app.inject({ method: 'POST', url, headers, ...(payload === undefined ? {} : { payload }) })
}

describe('acknowledging', () => {
  it('is written down with who did it, and is harmless twice', async () => {
    const key = encodeURIComponent('dry-well:well')
    expect((await post(`/api/alarms/${key}/acknowledge`)).json()).toEqual({ done: true })
    expect((await post(`/api/alarms/${key}/acknowledge`)).statusCode).toBe(200)
    expect(fake.source.acts[0]).toBe('acknowledge juniper dry-well:well owner')
    const { alarms } = (await fake.app.inject('/api/now')).json()
    expect(alarms[0]).toMatchObject({ state: 'acknowledged', acknowledged_by: 'owner' })
  })

  it('of what is not active is 404', async () => {
    const answer = await post('/api/alarms/leak:tank/acknowledge')
    expect(answer.statusCode).toBe(404)
    expect(answer.json().field).toBe('key')
  })
})

describe('shelving', () => {
  it('takes minutes and a reason and says until when', async () => {
    const answer = await post('/api/alarms/dry-well:well/shelve', { minutes: 90, reason: ' pump is out ' })
    expect(answer.json().until).toBe(new Date(NOW + 90 * MINUTE).toISOString())
    expect(fake.source.acts).toEqual([`shelve juniper dry-well:well ${90 * MINUTE} pump is out owner`])
  })

  it.each([
    ['minutes', { reason: 'x' }],
    ['minutes', { minutes: 0, reason: 'x' }],
    ['minutes', { minutes: LIMITS.shelveMinutesMax + 1, reason: 'x' }],
    ['minutes', { minutes: '90', reason: 'x' }],
    ['reason', { minutes: 90 }],
    ['reason', { minutes: 90, reason: '   ' }],
    ['until', { minutes: 90, reason: 'x', until: 'tomorrow' }],
  ])('refuses with 400 and names %s', async (field, payload) => {
    const answer = await post('/api/alarms/dry-well:well/shelve', payload)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe(field)
    expect(fake.source.acts).toEqual([])
  })
})

describe('the service log', () => {
  it('takes an entry that may start a new baseline', async () => {
    const answer = await post('/api/journal', { text: 'New pump.', new_baseline: true })
    expect(answer.statusCode).toBe(201)
    expect(answer.json()).toMatchObject({ by: 'owner', text: 'New pump.', new_baseline: true })
    const { entries } = (await fake.app.inject('/api/journal')).json()
    expect(entries.at(-1).text).toBe('New pump.')
  })

  it.each([
    ['text', { text: '' }],
    ['text', { text: 'x'.repeat(LIMITS.journalCharsMax + 1) }],
    ['new_baseline', { text: 'x', new_baseline: 'yes' }],
  ])('refuses with 400 and names %s', async (field, payload) => {
    const answer = await post('/api/journal', payload)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe(field)
  })
})

describe('away, season and maintenance', () => {
  it('are handed to the daemon', async () => {
    await post('/api/away', { away: true })
    await post('/api/away', { away: null })
    await post('/api/season', { winterized: true })
    expect((await post('/api/maintenance', { minutes: 60 })).json().until).toBe(
      new Date(NOW + 60 * MINUTE).toISOString(),
    )
    expect((await post('/api/maintenance', { minutes: 0 })).json()).toEqual({ until: null })
    expect(fake.source.acts).toEqual([
      'away juniper true owner',
      'away juniper null owner',
      'season juniper true owner',
      `maintenance juniper ${NOW + 60 * MINUTE} owner`,
      'maintenance juniper null owner',
    ])
  })

  it.each([
    ['/api/away', 'away', { away: 'yes' }],
    ['/api/away', 'away', {}],
    ['/api/season', 'winterized', { winterized: 1 }],
    ['/api/maintenance', 'minutes', { minutes: -1 }],
    ['/api/maintenance', 'minutes', { minutes: LIMITS.maintenanceMinutesMax + 1 }],
  ])('%s refuses with 400 and names %s', async (url, field, payload) => {
    const answer = await post(url, payload)
    expect(answer.statusCode).toBe(400)
    expect(answer.json().field).toBe(field)
  })

  it('refuse what is not JSON, and bodies that are too large', async () => {
    const headers = { ...ACT, 'content-type': 'application/json' }
    const broken = await fake.app.inject({ method: 'POST', url: '/api/away', headers, payload: '{"away":' })
    expect(broken.statusCode).toBe(400)
    const text = await fake.app.inject({
      method: 'POST',
      url: '/api/away',
      headers: { ...ACT, 'content-type': 'text/plain' },
      payload: 'x',
    })
    expect(text.statusCode).toBe(415)
    const large = await post('/api/journal', { text: 'x'.repeat(LIMITS.requestBytesMax) })
    expect(large.statusCode).toBe(413)
  })
})

describe('the acknowledging link', () => {
  it('shows only a button to GET: a mail scanner changes nothing', async () => {
    const answer = await fake.app.inject('/ack/good-token.tag')
    expect(answer.statusCode).toBe(200)
    expect(answer.headers['content-type']).toContain('text/html')
    expect(answer.body).toContain('<button')
    expect(answer.body).toContain('Juniper &lt;Bench&gt;')
    expect(answer.body).not.toContain('<Bench>')
    expect((await fake.app.inject({ method: 'HEAD', url: '/ack/good-token.tag' })).statusCode).toBe(200)
    expect(fake.source.acts).toEqual([])
  })

  it('acts on POST as a plain form sends it, twice with the same answer', async () => {
    const form = { 'content-type': 'application/x-www-form-urlencoded' }
    const first = await post('/ack/good-token.tag', undefined, form)
    const second = await post('/ack/good-token.tag', undefined, form)
    expect(first.statusCode).toBe(200)
    expect(first.body).toContain('Acknowledged')
    expect(second.body).toBe(first.body)
    expect((await fake.app.inject('/ack/good-token.tag')).body).not.toContain('<button')
  })

  it('says plainly that it is not valid any more', async () => {
    const answer = await fake.app.inject('/ack/forged')
    expect(answer.statusCode).toBe(404)
    expect(answer.body).toContain('not valid')
    expect((await post('/ack/forged')).statusCode).toBe(404)
    expect(fake.source.acts).toEqual([])
  })
})
