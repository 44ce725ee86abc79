import { randomBytes } from 'node:crypto'
import type { FastifyInstance } from 'fastify'
import { createApp } from '../../src/show/app.js'
import type { AppDeps } from '../../src/show/source.js'
import { createFakeSource, type FakeSource } from './fake-source.js'

export type FakeApp = { readonly app: FastifyInstance; readonly source: FakeSource; readonly errors: unknown[] }

/** An app over a made-up source; open access unless said otherwise. */
export function createFakeApp(changes: Partial<AppDeps> & { readonly source?: FakeSource } = {}): FakeApp {
  const source = changes.source ?? createFakeSource()
  const errors: unknown[] = []
  const app = createApp({
    access: 'open',
    randomBytes,
    tls: null,
    broker: { kind: 'embedded', host: '192.0.2.10', port: 1883, tls: false, anonymous: false },
    pageDir: null,
    version: '0.0.0',
    onError: (error) => errors.push(error),
    ...changes,
    source,
  })
  return { app, source, errors }
}

/** The header that acting requests carry. */
export const ACT = { 'x-sightglass-act': '1' }

/** Signs in and returns the cookie header. */
export async function signIn(app: FastifyInstance, account: { name: string; secret: string }): Promise<string> {
  const answer = await app.inject({ method: 'POST', url: '/api/session', headers: ACT, payload: account })
  const cookie = answer.cookies[0]
  if (answer.statusCode !== 200 || cookie === undefined) throw new Error(`sign-in answered ${answer.statusCode}`)
  return `${cookie.name}=${cookie.value}`
}
