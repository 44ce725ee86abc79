import { connect } from 'node:net'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { LIMITS } from '../../src/model/limits.js'
import { createEventHub } from '../../src/show/events.js'
import { OPEN_METRICS_TYPE, openMetrics } from '../../src/show/open-metrics.js'
import { createFakeApp, type FakeApp, signIn } from './fake-app.js'
import { NOW } from './fake-site.js'
import { createFakeSource, VIEWER } from './fake-source.js'

let fake: FakeApp

beforeEach(() => {
  fake = createFakeApp()
})
afterEach(() => fake.app.close())

describe('GET /health', () => {
  it('is 200 while every check is well', async () => {
    const answer = await fake.app.inject('/health')
    expect(answer.statusCode).toBe(200)
    expect(answer.json().status).toBe('working')
  })

  it('is 503 with the reason when one is not, when there are none, and when the checks fail', async () => {
    fake.source.checks = [{ name: 'store', ok: false, reason: 'no commit for 2 min' }]
    const answer = await fake.app.inject('/health')
    expect(answer.statusCode).toBe(503)
    expect(answer.json().checks[0].reason).toBe('no commit for 2 min')
    fake.source.checks = []
    expect((await fake.app.inject('/health')).statusCode).toBe(503)
    const broken = createFakeApp({
      source: {
        ...createFakeSource(),
        health: () => {
          throw new Error('secret path')
        },
      },
    })
    const failed = await broken.app.inject('/health')
    expect(failed.statusCode).toBe(503)
    expect(failed.body).not.toContain('secret path')
    await broken.app.close()
  })

  it('names no site, board or person', async () => {
    const { body } = await fake.app.inject('/health')
    expect(body).not.toMatch(/juniper|tank-board|ops/i)
  })
})

describe('GET /api/openapi.json', () => {
  it('documents every route with OpenAPI 3.1, its words and its refusals', async () => {
    const answer = await fake.app.inject('/api/openapi.json')
    expect(answer.statusCode).toBe(200)
    const document = answer.json()
    expect(document.openapi).toBe('3.1.0')
    expect(Object.keys(document.paths).toSorted()).toEqual([
      '/api/alarms',
      '/api/alarms/settings',
      '/api/alarms/{key}/acknowledge',
      '/api/alarms/{key}/shelve',
      '/api/away',
      '/api/backtest',
      '/api/cycles',
      '/api/days',
      '/api/events',
      '/api/freeze',
      '/api/journal',
      '/api/maintenance',
      '/api/now',
      '/api/push',
      '/api/refused',
      '/api/season',
      '/api/series/{role}',
      '/api/session',
      '/api/signals',
      '/api/sizing',
      '/api/tokens',
      '/api/tokens/{name}',
      '/api/upkeep',
      '/api/usual',
      '/health',
      '/metrics',
    ])
    const shelve = document.paths['/api/alarms/{key}/shelve'].post
    const schema = shelve.requestBody.content['application/json'].schema
    expect(schema.required.toSorted()).toEqual(['minutes', 'reason'])
    expect(schema.properties.minutes.maximum).toBe(LIMITS.shelveMinutesMax)
    expect(Object.keys(shelve.responses)).toEqual(expect.arrayContaining(['200', '400', '401', '404', '429']))
    expect(document.components.schemas.Alarm.properties.if_ignored.type).toBe('string')
  })

  it('has no reference that leads nowhere', async () => {
    const document = (await fake.app.inject('/api/openapi.json')).json()
    const references = JSON.stringify(document).match(/"\$ref":"[^"]+"/g) ?? []
    expect(references.length).toBeGreaterThan(5)
    for (const reference of references) {
      const name = /#\/components\/schemas\/([^"]+)/.exec(reference)?.[1] ?? 'none'
      expect(document.components.schemas).toHaveProperty(name)
    }
  })

  it('every answer of now fits the document’s own schema name', async () => {
    const document = (await fake.app.inject('/api/openapi.json')).json()
    const schema = document.paths['/api/now'].get.responses['200'].content['application/json'].schema
    expect(schema.$ref).toBe('#/components/schemas/Now')
    const body = (await fake.app.inject('/api/now')).json()
    expect(Object.keys(body).toSorted()).toEqual(Object.keys(document.components.schemas.Now.properties).toSorted())
  })
})

describe('GET /metrics', () => {
  it('answers in OpenMetrics with the counters of the daemon and the gauges of the sites', async () => {
    const answer = await fake.app.inject('/metrics')
    expect(answer.headers['content-type']).toBe(OPEN_METRICS_TYPE)
    expect(answer.body).toContain(
      'sightglass_messages_total{site="juniper",board="a \\"quoted\\" \\\\ board\\nname"} 1234\n',
    )
    expect(answer.body).toContain('sightglass_tank_level_meters{site="juniper"} 1.016\n')
    expect(answer.body).toContain('sightglass_alarm_active{site="juniper",sightglass_alarm_active="dry-well"} 1\n')
    expect(answer.body.endsWith('\n# EOF\n')).toBe(true)
  })

  it('leaves out what is not known instead of calling it 0', async () => {
    fake.source.factsOf.set('juniper', null)
    const { body } = await fake.app.inject('/metrics')
    expect(body).not.toContain('sightglass_tank_level_meters{')
    expect(body).toContain('# TYPE sightglass_tank_level_meters gauge')
  })

  it('fails loudly on names that a collector would refuse the whole page for', () => {
    const family = { name: 'sightglass_x', type: 'gauge' as const, help: '', points: [] }
    expect(() => openMetrics([family, family])).toThrow('twice')
    expect(() => openMetrics([{ ...family, unit: 'seconds' }])).toThrow('_seconds')
    expect(() => openMetrics([{ ...family, name: 'bad-name' }])).toThrow('bad-name')
    expect(() => openMetrics([{ ...family, name: 'x_total', type: 'counter' }])).toThrow('suffix')
    expect(() => openMetrics([{ ...family, points: [{ labels: { 'a-b': '1' }, value: 1 }] }])).toThrow('a-b')
  })
})

describe('what every answer carries', () => {
  it('is a policy without inline code or style, and no wish to be guessed or framed', async () => {
    for (const url of ['/api/now', '/health', '/ack/forged', '/api/nothing']) {
      const { headers } = await fake.app.inject(url)
      const policy = String(headers['content-security-policy'])
      expect(policy).toContain("default-src 'none'")
      expect(policy).toContain("script-src 'self'")
      expect(policy).toContain("style-src 'self'")
      expect(policy).toContain("frame-ancestors 'none'")
      expect(policy).not.toContain('unsafe')
      expect(headers['x-content-type-options']).toBe('nosniff')
      expect(headers['strict-transport-security']).toBeUndefined()
    }
    expect((await fake.app.inject('/api/now')).headers['cache-control']).toBe('no-store')
  })
})

/** Reads an event stream until `enough` says so; the socket is destroyed after. */
function listen(port: number, path: string, enough: (text: string) => boolean): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1')
    let text = ''
    socket.write(`GET ${path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n`)
    socket.on('data', (chunk) => {
      text += chunk.toString('utf8')
      if (enough(text)) {
        socket.destroy()
        resolve(text)
      }
    })
    socket.on('error', reject)
    socket.on('close', () => resolve(text))
  })
}

async function until(what: () => boolean): Promise<void> {
  for (let n = 0; n < 400 && !what(); n += 1) await new Promise((done) => setTimeout(done, 5))
  expect(what()).toBe(true)
}

async function portOf(app: FakeApp['app']): Promise<number> {
  await app.listen({ host: '127.0.0.1', port: 0 })
  const address = app.server.address()
  if (address === null || typeof address === 'string') throw new Error('no port')
  return address.port
}

describe('GET /api/events', () => {
  it('streams what happens at the site that was asked for, with the same safe headers', async () => {
    const port = await portOf(fake.app)
    const timer = setInterval(() => {
      fake.source.emit({ site: 'elsewhere', kind: 'now', at: NOW })
      fake.source.emit({ site: 'juniper', kind: 'alarms', at: NOW })
    }, 10)
    const text = await listen(port, '/api/events', (so) => so.includes('event: alarms'))
    clearInterval(timer)
    expect(text).toContain('content-type: text/event-stream')
    expect(text).toContain("default-src 'none'")
    expect(text).toContain('data: {"site":"juniper","at":"2026-02-03T21:05:00.000Z"}')
    expect(text).not.toContain('elsewhere')
  })

  it('does not keep the app from closing', async () => {
    const port = await portOf(fake.app)
    const streams = Array.from({ length: 5 }, () => listen(port, '/api/events', () => false))
    const metric = async () => (await fake.app.inject('/metrics')).body
    for (let n = 0; n < 200 && !(await metric()).includes('sightglass_page_listeners 5\n'); n += 1) {
      await new Promise((done) => setTimeout(done, 5))
    }
    expect(await metric()).toContain('sightglass_page_listeners 5\n')
    await fake.app.close()
    const texts = await Promise.all(streams)
    expect(texts.every((text) => text.includes('retry:'))).toBe(true)
    expect(fake.source.listeners).toBe(0)
  })

  it('is bounded: one listener too many is told to poll', async () => {
    const source = createFakeSource()
    const hub = createEventHub(source)
    const made = { writes: 0 }
    const reply = {
      hijack: () => undefined,
      getHeaders: () => ({}),
      raw: {
        setHeader: () => undefined,
        writeHead: () => undefined,
        write: () => (made.writes += 1),
        end: () => undefined,
        on: () => undefined,
        writableLength: 0,
      },
    }
    const request = { raw: { on: () => undefined } }
    const add = () => hub.listen(request as never, reply as never, 'juniper', () => true)
    for (let n = 0; n < LIMITS.eventClientsMax; n += 1) add()
    expect(add).toThrow('poll')
    expect(hub.clients()).toBe(LIMITS.eventClientsMax)
    hub.close()
    expect(hub.clients()).toBe(0)
  })

  it('lets a listener go that does not read, and one whose session has ended', async () => {
    const source = createFakeSource()
    const hub = createEventHub(source, 5)
    let gone = 0
    const make = (writableLength: number) => ({
      hijack: () => undefined,
      getHeaders: () => ({}),
      raw: {
        setHeader: () => undefined,
        writeHead: () => undefined,
        write: () => true,
        end: () => {
          gone += 1
        },
        destroy: () => {
          gone += 1
        },
        on: () => undefined,
        writableLength,
      },
    })
    const request = { raw: { on: () => undefined } }
    hub.listen(request as never, make(LIMITS.eventBacklogBytesMax + 1) as never, 'juniper', () => true)
    source.emit({ site: 'juniper', kind: 'now', at: NOW })
    expect(gone).toBe(1)
    hub.listen(request as never, make(0) as never, 'juniper', () => false)
    await until(() => gone === 2)
    expect(hub.clients()).toBe(0)
    hub.close()
  })

  it('is for people with an account', async () => {
    const closed = createFakeApp({ access: 'accounts' })
    await signIn(closed.app, VIEWER)
    expect((await closed.app.inject('/api/events')).statusCode).toBe(401)
    await closed.app.close()
  })
})
