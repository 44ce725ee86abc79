/** Tokens for scripts: made, listed and revoked by an owner; the text of one is in a single answer and nowhere else. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { requirePerson } from '../access/guard.js'
import { AskedTime, askedSite, iso, isoOrNull, SiteQuery, Time, TimeOrNull } from '../bodies/common.js'
import { ApiError, COMMON_ERRORS, ErrorBody } from '../errors.js'
import type { AppDeps, ShownToken } from '../source.js'

const Name = z
  .string()
  .regex(/^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u, { error: 'letters, digits, spaces, dots and dashes are expected' })

const Asked = z.strictObject({
  name: Name.describe('What the journal calls it'),
  role: z.enum(['viewer', 'owner']).default('viewer').describe('viewer reads, owner also acts'),
  until: AskedTime.nullable().default(null).describe('Good before this time; null: until it is revoked'),
})

const TokenBody = z
  .object({
    name: z.string(),
    role: z.enum(['owner', 'viewer']),
    made_by: z.string(),
    made_at: Time,
    until: TimeOrNull,
    used_at: TimeOrNull.describe('To the day'),
  })
  .meta({ id: 'Token' })

function tokenBody({ name, role, madeBy, madeAt, until, usedAt }: ShownToken) {
  return { name, role, made_by: madeBy, made_at: iso(madeAt), until: isoOrNull(until), used_at: isoOrNull(usedAt) }
}

const owner = { needs: 'owner' } as const

export function tokenRoutes({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/tokens',
      {
        config: owner,
        schema: {
          summary: 'Tokens of scripts, without their texts',
          tags: ['session'],
          response: { 200: z.object({ rows: z.array(TokenBody) }), ...COMMON_ERRORS },
        },
      },
      () => ({ rows: source.tokens().map(tokenBody) }),
    )

    app.post(
      '/api/tokens',
      {
        config: owner,
        schema: {
          summary: 'Make a token for a script: Authorization: Bearer and its text, which is shown this once',
          tags: ['session'],
          querystring: SiteQuery,
          body: Asked,
          response: { 201: TokenBody.extend({ token: z.string() }), 409: ErrorBody, ...COMMON_ERRORS },
        },
      },
      (request, reply) => {
        // Else one that was stolen could outlive its end and its being revoked.
        if (requirePerson(request).token === true) throw new ApiError(403, 'A token cannot make tokens')
        const site = askedSite(source, request.query.site)
        const { name, role, until } = request.body
        const end = until === null ? null : Date.parse(until)
        if (end !== null && end <= source.now())
          throw new ApiError(400, '"until" has passed', 'until', 'a time to come')
        const made = source.makeToken(site.id, { name, role, until: end }, requirePerson(request).name)
        if (made === 'taken') throw new ApiError(409, `There is a token "${name}" already`, 'name', 'another name')
        if (made === 'full') throw new ApiError(409, 'There are too many tokens; revoke one first')
        void reply.code(201).send({ ...tokenBody(made.token), token: made.text })
      },
    )

    app.delete(
      '/api/tokens/:name',
      {
        config: owner,
        schema: {
          summary: 'Revoke a token: it is good for nothing from now on',
          tags: ['session'],
          params: z.object({ name: z.string().max(64) }),
          querystring: SiteQuery,
          response: { 200: z.object({ done: z.literal(true) }), ...COMMON_ERRORS },
        },
      },
      (request) => {
        const site = askedSite(source, request.query.site)
        const { name } = request.params
        if (!source.revokeToken(site.id, name, requirePerson(request).name)) {
          throw new ApiError(404, `There is no token "${name}"`, 'name')
        }
        return { done: true as const }
      },
    )
  }
}
