/**
 * Who is asking, and may they. One hook for every guarded route: reading needs a viewer, a route whose config says
 * `needs: 'owner'` needs an owner, and every acting request must carry a header that another site's page cannot send.
 */
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify'
import { LIMITS } from '../../model/limits.js'
import { ApiError } from '../errors.js'
import type { AppDeps, ShowSource } from '../source.js'
import { createBasicChecker } from './basic.js'
import { parseBearer, personByToken } from './bearer.js'
import type { Person, Sessions } from './sessions.js'

declare module 'fastify' {
  interface FastifyRequest {
    person: Person | null
  }
  interface FastifyContextConfig {
    needs?: 'nobody' | 'viewer' | 'owner'
  }
}

/** Sent by the page and by scripts with everything that acts; a form or image of another site cannot set it. */
export const ACT_HEADER = 'x-sightglass-act'

/** Open access is for the machine itself: its person may do everything. */
const LOOPBACK_OWNER: Person = { name: 'owner', role: 'owner' }

/** What a proxy adds (RFC 7239, and common practice): whoever asks is then not known to sit at the machine. */
const FORWARDED_HEADERS = ['forwarded', 'x-forwarded-for', 'x-forwarded-host', 'x-real-ip'] as const

/** The cookie's name; with TLS the `__Host-` prefix binds it to this host and to HTTPS (RFC 6265bis 4.1.3.2). */
export function cookieName(secure: boolean): string {
  return secure ? '__Host-sightglass' : 'sightglass'
}

/** Whether a Host header names the machine itself: keeps out pages that point their own name at 127.0.0.1. */
export function isLoopbackHost(host: string | undefined): boolean {
  if (host === undefined) return false
  const name = host.replace(/:\d+$/, '').toLowerCase()
  return name === 'localhost' || name === '[::1]' || /^127\.\d{1,3}\.\d{1,3}\.\d{1,3}$/.test(name)
}

function personOf(source: ShowSource, name: string | null): Person | null {
  const role = name === null ? null : source.role(name)
  return name === null || role === null ? null : { name, role }
}

/** The person behind the request, or a refusal. */
export function requirePerson(request: FastifyRequest): Person {
  if (request.person === null) throw new ApiError(401, 'Sign in first')
  return request.person
}

function checkAct(request: FastifyRequest): void {
  if (request.method === 'GET' || request.method === 'HEAD') return
  if (request.headers[ACT_HEADER] === undefined) {
    throw new ApiError(403, `A request that acts must carry the header ${ACT_HEADER}`, ACT_HEADER, '1')
  }
}

/** Adds the guard to one encapsulated part of the app. */
export function addGuard(app: FastifyInstance, deps: AppDeps, sessions: Sessions): void {
  const { source } = deps
  const cookie = cookieName(deps.tls !== null)
  const basic = createBasicChecker(source.verify)
  const tries = app.createRateLimit({ max: LIMITS.loginTriesMax, timeWindow: LIMITS.loginWindowMs })

  async function byHeader(request: FastifyRequest, header: string): Promise<Person | null> {
    const bearer = parseBearer(header)
    if (bearer === null) return byBasic(request, header)
    // Looked up before the tries are counted: a guesser elsewhere in the house must not lock the scripts out.
    const person = personByToken(source, bearer)
    if (person !== null) return person
    const after = await tries(request)
    if (!after.isAllowed && after.isExceeded) throw new ApiError(429, 'Too many tries; wait a few minutes')
    return null
  }

  async function byBasic(request: FastifyRequest, header: string): Promise<Person | null> {
    const before = await tries(request, { increment: false })
    if (!before.isAllowed && before.isExceeded) throw new ApiError(429, 'Too many tries; wait a few minutes')
    const person = personOf(source, await basic(header, source.now()))
    if (person === null) await tries(request)
    return person
  }

  async function identify(request: FastifyRequest): Promise<Person | null> {
    // Whoever gives a name and a password is held to them, also where none is needed.
    if (deps.access === 'open') {
      const given = request.headers.authorization
      return given === undefined ? LOOPBACK_OWNER : byHeader(request, given)
    }
    const id = request.cookies[cookie]
    if (id !== undefined) return personOf(source, sessions.find(id, source.now()))
    const header = request.headers.authorization
    return header === undefined ? null : byHeader(request, header)
  }

  app.addHook('onRequest', async (request: FastifyRequest, reply: FastifyReply) => {
    if (deps.access === 'open' && !isLoopbackHost(request.headers.host)) {
      throw new ApiError(403, 'Open access answers only to the machine itself', 'host', 'localhost or 127.0.0.1')
    }
    if (deps.access === 'open' && FORWARDED_HEADERS.some((name) => request.headers[name] !== undefined)) {
      throw new ApiError(
        403,
        'Open access is not for what a proxy passes on from other machines',
        'host',
        'page.open_on_loopback: false in the configuration, and an account',
      )
    }
    checkAct(request)
    const needs = request.routeOptions.config.needs ?? 'viewer'
    request.person = await identify(request)
    if (needs === 'nobody') return
    if (request.person === null) {
      // Not the Basic scheme: a browser would open its own box over the page's sign-in form.
      const scheme = parseBearer(request.headers.authorization) === null ? 'Session' : 'Bearer'
      const why = scheme === 'Bearer' ? ', error="invalid_token"' : ''
      void reply.header('www-authenticate', `${scheme} realm="sightglass"${why}`)
      throw new ApiError(401, 'Sign in first')
    }
    if (needs === 'owner' && request.person.role !== 'owner') {
      throw new ApiError(403, 'Only an owner may do this; this account may look')
    }
  })
}
