/** The route that says how much panel and battery a place needs. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { SizingBody, sizingBody } from '../bodies/sizing.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

const SizingQuery = SiteQuery.extend({
  need_l: z.coerce
    .number()
    .positive()
    .max(1e6)
    .optional()
    .describe('Water needed a day, litres; else as configured, else as used'),
  short_days: z.coerce.number().min(0).max(60).default(1).describe('Days a year on which it may fall short'),
})

export function sizingRoute({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/sizing',
      {
        schema: {
          summary: 'Panel and battery sizes from the site’s own days; takes some seconds the first time on a day',
          tags: ['read'],
          querystring: SizingQuery,
          response: { 200: SizingBody, ...COMMON_ERRORS },
        },
      },
      async ({ query }) => {
        const site = askedSite(source, query.site)
        const result = await source.sizing(site.id, query.need_l ?? null, query.short_days)
        if (result === 'busy') throw new ApiError(429, 'Too many sizes are being worked out; ask again in a minute')
        return sizingBody(result)
      },
    )
  }
}
