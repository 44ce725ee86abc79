/** The route that tries another setting of an alarm over the last month. It changes nothing. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { BacktestAsked, BacktestBody, backtestBody, checkSettings } from '../bodies/backtest.js'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

export function backtestRoute({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.post(
      '/api/backtest',
      {
        config: { needs: 'owner' },
        schema: {
          summary: 'What an alarm with other settings would have said over the last 30 days; takes some seconds',
          tags: ['read'],
          querystring: SiteQuery,
          body: BacktestAsked,
          response: { 200: BacktestBody, ...COMMON_ERRORS },
        },
      },
      async ({ query, body }) => {
        const site = askedSite(source, query.site)
        checkSettings(body.alarm, body.settings)
        const answer = await source.backtest(site.id, body.alarm, body.settings)
        if (answer === 'busy') throw new ApiError(429, 'Another setting is being tried; ask again in a minute')
        return backtestBody(site.id, body.alarm, answer)
      },
    )
  }
}
