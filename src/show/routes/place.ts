/** Routes about the place itself: its signals as they come in, its upkeep, and what its alarms go by. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { AlarmSettingsBody, alarmSettingsBody } from '../bodies/alarm-settings.js'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { SignalsBody, signalsBody } from '../bodies/signals.js'
import { UpkeepBody, upkeepBody } from '../bodies/upkeep.js'
import { COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

export function placeRoutes({ source, broker }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/api/signals',
      {
        schema: {
          summary: 'Each signal as it is configured and as it comes in: for checking sensors and connecting boards',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: SignalsBody, ...COMMON_ERRORS },
        },
      },
      ({ query }) => signalsBody(source, askedSite(source, query.site), broker),
    )

    app.get(
      '/api/alarms/settings',
      {
        schema: {
          summary: 'What each alarm goes by: its settings, the default beside what the configuration says',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: AlarmSettingsBody, ...COMMON_ERRORS },
        },
      },
      ({ query }) => alarmSettingsBody(askedSite(source, query.site)),
    )

    app.get(
      '/api/upkeep',
      {
        schema: {
          summary: 'What is to be done again and again, when it was last done and when it is due',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: UpkeepBody, ...COMMON_ERRORS },
        },
      },
      ({ query }) => upkeepBody(source, askedSite(source, query.site)),
    )
  }
}
