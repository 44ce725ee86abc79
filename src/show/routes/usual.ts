/** The route that tells what has been learned of a site. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { UsualBody, usualBody } from '../bodies/usual.js'
import { COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

export function usualRoute({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/usual',
      {
        schema: {
          summary: 'What is usual here, on how many fills it rests, and whether yield and energy have moved',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: UsualBody, ...COMMON_ERRORS },
        },
      },
      ({ query }) => {
        const site = askedSite(source, query.site)
        return usualBody(site, source.state(site.id).facts)
      },
    )
  }
}
