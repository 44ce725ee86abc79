/** Signing in and out. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { LIMITS } from '../../model/limits.js'
import { cookieName, requirePerson } from '../access/guard.js'
import type { Sessions } from '../access/sessions.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

const Asked = z.strictObject({
  name: z.string().min(1).max(64),
  secret: z.string().min(1).max(LIMITS.secretCharsMax),
})
const PersonBody = z.object({ name: z.string(), role: z.enum(['owner', 'viewer']) })

export function sessionRoutes(deps: AppDeps, sessions: Sessions): FastifyPluginAsyncZod {
  const { source } = deps
  const secure = deps.tls !== null
  const cookie = cookieName(secure)
  const cookieOptions = { path: '/', httpOnly: true, sameSite: 'strict', secure } as const

  return async (app) => {
    app.post(
      '/api/session',
      {
        config: {
          needs: 'nobody',
          rateLimit: { max: LIMITS.loginTriesMax, timeWindow: LIMITS.loginWindowMs },
        },
        schema: {
          summary: 'Sign in; the answer sets a session cookie',
          tags: ['session'],
          body: Asked,
          response: { 200: PersonBody, ...COMMON_ERRORS },
        },
      },
      async (request, reply) => {
        const { name, secret } = request.body
        const role = await source.verify(name, secret)
        if (role === null) throw new ApiError(401, 'Name and secret do not fit together')
        const old = request.cookies[cookie]
        if (old !== undefined) sessions.end(old)
        const id = sessions.begin(name, source.now())
        void reply.setCookie(cookie, id, { ...cookieOptions, maxAge: LIMITS.sessionAgeMaxMs / 1000 })
        return { name, role }
      },
    )

    app.get(
      '/api/session',
      { schema: { summary: 'Who is asking', tags: ['session'], response: { 200: PersonBody, ...COMMON_ERRORS } } },
      (request) => ({ ...requirePerson(request) }),
    )

    app.delete(
      '/api/session',
      {
        config: { needs: 'nobody' },
        schema: { summary: 'Sign out', tags: ['session'], response: { 204: z.undefined(), ...COMMON_ERRORS } },
      },
      (request, reply) => {
        const id = request.cookies[cookie]
        if (id !== undefined) sessions.end(id)
        void reply.clearCookie(cookie, cookieOptions).code(204).send()
      },
    )
  }
}
