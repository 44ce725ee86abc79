import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gunzipSync, gzipSync } from 'node:zlib'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createFakeApp, type FakeApp } from './fake-app.js'

let dir: string
let fake: FakeApp

beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'sightglass-static-'))
  await mkdir(join(dir, 'page', 'assets'), { recursive: true })
  await writeFile(join(dir, 'secret.txt'), 'not for the page')
  await writeFile(join(dir, 'page', 'index.html'), '<!doctype html><title>x</title>')
  await writeFile(join(dir, 'page', 'assets', 'main-ABC.js'), 'export {}')
  await writeFile(join(dir, 'page', 'assets', 'main-ABC.js.gz'), gzipSync('export {}'))
  fake = createFakeApp({ pageDir: join(dir, 'page'), access: 'accounts' })
})
afterAll(async () => {
  await fake.app.close()
  await rm(dir, { recursive: true, force: true })
})

describe('the page’s files', () => {
  it('are open to everybody: they say nothing of any site', async () => {
    const answer = await fake.app.inject('/')
    expect(answer.statusCode).toBe(200)
    expect(answer.headers['content-type']).toContain('text/html')
    expect(answer.headers['content-security-policy']).toContain("script-src 'self'")
  })

  it('are asked for again each time, but for those whose name changes with what is in them', async () => {
    expect((await fake.app.inject('/')).headers['cache-control']).toBe('no-cache')
    expect((await fake.app.inject('/assets/main-ABC.js')).headers['cache-control']).toContain('immutable')
  })

  it('go out packed when they have been packed beforehand', async () => {
    const answer = await fake.app.inject({ url: '/assets/main-ABC.js', headers: { 'accept-encoding': 'gzip' } })
    expect(answer.headers['content-encoding']).toBe('gzip')
    expect(gunzipSync(answer.rawPayload).toString()).toBe('export {}')
    expect((await fake.app.inject('/assets/main-ABC.js')).body).toBe('export {}')
  })

  it('end at their folder', async () => {
    for (const url of ['/../secret.txt', '/%2e%2e/secret.txt', '/assets/..%2f..%2fsecret.txt', '/..%5csecret.txt']) {
      const answer = await fake.app.inject(url)
      expect(answer.statusCode).toBeGreaterThanOrEqual(400)
      expect(answer.body).not.toContain('not for the page')
    }
  })
})

describe('a long answer', () => {
  it('is packed when it is asked for', async () => {
    const open = createFakeApp()
    const packed = await open.app.inject({ url: '/api/series/tank-level', headers: { 'accept-encoding': 'gzip' } })
    expect(packed.headers['content-encoding']).toBe('gzip')
    const rows = JSON.parse(gunzipSync(packed.rawPayload).toString()).rows
    expect(rows.length).toBeGreaterThan(500)
    expect(packed.rawPayload.length).toBeLessThan(JSON.stringify(rows).length / 3)
    const bare = await open.app.inject('/api/series/tank-level')
    expect(bare.headers['content-encoding']).toBeUndefined()
    expect(bare.json().rows).toEqual(rows)
    await open.app.close()
  })
})
