/** The route that says how cold it gets, and what that does to lines, ground and battery. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { FreezeBody, freezeBody } from '../bodies/freeze.js'
import { COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

export function freezeRoute({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/freeze',
      {
        schema: {
          summary: 'Tonight’s minimum and its course, the lines, frost in the ground, battery, closing and opening',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: FreezeBody, ...COMMON_ERRORS },
        },
      },
      ({ query }) => {
        const site = askedSite(source, query.site)
        const { facts, modes } = source.state(site.id)
        return freezeBody(site, facts, modes)
      },
    )
  }
}
