import { execFileSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { request } from 'node:https'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { needs } from '../support/needs.js'
import { createFakeApp, type FakeApp } from './fake-app.js'
import { OWNER } from './fake-source.js'

const openssl = needs('openssl')

describe.skipIf(openssl === null)('the page with its own certificate (needs openssl)', () => {
  let dir: string
  let cert: string
  let fake: FakeApp
  let port: number

  beforeAll(async () => {
    dir = mkdtempSync(join(tmpdir(), 'sightglass-tls-'))
    const paths = { key: join(dir, 'key.pem'), cert: join(dir, 'cert.pem') }
    execFileSync(
      openssl ?? '',
      [
        ...['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'],
        ...[
          '-subj',
          '/CN=localhost',
          '-addext',
          'subjectAltName=DNS:localhost',
          '-keyout',
          paths.key,
          '-out',
          paths.cert,
        ],
      ],
      { stdio: 'ignore' },
    )
    cert = readFileSync(paths.cert, 'utf8')
    fake = createFakeApp({ access: 'accounts', tls: { key: readFileSync(paths.key, 'utf8'), cert } })
    const address = await fake.app.listen({ host: '127.0.0.1', port: 0 })
    port = Number(new URL(address).port)
  })
  afterAll(async () => {
    await fake?.app.close()
    rmSync(dir, { recursive: true, force: true })
  })

  it('speaks HTTPS, asks to be asked by it alone, and binds the session to it', async () => {
    const payload = JSON.stringify(OWNER)
    const headers = { 'content-type': 'application/json', 'x-sightglass-act': '1' }
    const answer = await new Promise<{ status: number; headers: NodeJS.Dict<string | string[]> }>((resolve, reject) => {
      const options = {
        host: '127.0.0.1',
        servername: 'localhost',
        port,
        path: '/api/session',
        method: 'POST',
        ca: cert,
        headers,
      }
      const asked = request(options, (response) => {
        response.resume()
        resolve({ status: response.statusCode ?? 0, headers: response.headers })
      })
      asked.on('error', reject)
      asked.end(payload)
    })
    expect(answer.status).toBe(200)
    expect(answer.headers['strict-transport-security']).toMatch(/max-age=\d{7,}/)
    // RFC 6265bis, 4.1.3.2: a __Host- cookie is Secure, has the path / and no domain.
    const cookie = String(answer.headers['set-cookie'])
    expect(cookie).toMatch(/^__Host-sightglass=[0-9a-f]{64};/)
    expect(cookie).toContain('Secure')
    expect(cookie).toContain('HttpOnly')
    expect(cookie).toContain('SameSite=Strict')
    expect(cookie).toContain('Path=/')
    expect(cookie).not.toContain('Domain')
  })
})
