/** For other programs: events, metrics, health. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { parseBearer } from '../access/bearer.js'
import { cookieName, requirePerson } from '../access/guard.js'
import type { Sessions } from '../access/sessions.js'
import { askedSite, SiteQuery } from '../bodies/common.js'
import { COMMON_ERRORS } from '../errors.js'
import type { EventHub } from '../events.js'
import { OPEN_METRICS_TYPE, openMetrics } from '../open-metrics.js'
import { siteMetrics } from '../site-metrics.js'
import type { AppDeps, HealthCheck, ShowSource } from '../source.js'

const HealthBody = z.object({
  status: z.enum(['working', 'failing']),
  checks: z.array(z.object({ name: z.string(), ok: z.boolean(), reason: z.string() })),
})

function checks(source: ShowSource): readonly HealthCheck[] {
  try {
    return source.health()
  } catch {
    return [{ name: 'daemon', ok: false, reason: 'the checks themselves failed' }]
  }
}

/** Open to everybody: a watchdog elsewhere needs it, and it says nothing private. */
export function healthRoute({ source }: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    app.get(
      '/health',
      {
        schema: {
          summary: 'Whether the daemon itself works',
          tags: ['machine'],
          security: [],
          response: { 200: HealthBody, 503: HealthBody },
        },
      },
      (_request, reply) => {
        const found = checks(source).map(({ name, ok, reason }) => ({ name, ok, reason }))
        const working = found.length > 0 && found.every((check) => check.ok)
        void reply.header('cache-control', 'no-store').code(working ? 200 : 503)
        return { status: working ? ('working' as const) : ('failing' as const), checks: found }
      },
    )
  }
}

type App = Parameters<FastifyPluginAsyncZod>[0]

function eventsRoute(app: App, deps: AppDeps, sessions: Sessions, hub: EventHub): void {
  const { source } = deps
  app.get(
    '/api/events',
    {
      schema: {
        summary: 'Server-sent events: now, alarms, cycles, journal, modes; each says that it is worth asking again',
        tags: ['machine'],
        querystring: SiteQuery,
        response: { 200: { content: { 'text/event-stream': { schema: z.string() } } }, ...COMMON_ERRORS },
      },
    },
    (request, reply) => {
      const site = askedSite(source, request.query.site)
      const { name } = requirePerson(request)
      const id = request.cookies[cookieName(deps.tls !== null)]
      const bearer = parseBearer(request.headers.authorization)
      const stillWelcome = (): boolean =>
        deps.access === 'open' ||
        (bearer !== null && id === undefined && source.byToken(bearer) !== null) ||
        (source.role(name) !== null && (id === undefined || sessions.find(id, source.now()) !== null))
      hub.listen(request, reply, site.id, stillWelcome)
    },
  )
}

function metricsRoute(app: App, { source }: AppDeps, sessions: Sessions, hub: EventHub): void {
  app.get(
    '/metrics',
    {
      schema: {
        summary: 'OpenMetrics 1.0',
        tags: ['machine'],
        response: {
          200: { content: { 'application/openmetrics-text': { schema: z.string() } } },
          ...COMMON_ERRORS,
        },
      },
    },
    (_request, reply) => {
      const own = [
        {
          name: 'sightglass_page_sessions',
          type: 'gauge' as const,
          help: 'People signed in.',
          points: [{ labels: {}, value: sessions.size() }],
        },
        {
          name: 'sightglass_page_listeners',
          type: 'gauge' as const,
          help: 'Open event streams.',
          points: [{ labels: {}, value: hub.clients() }],
        },
      ]
      const text = openMetrics([...source.metrics(), ...siteMetrics(source), ...own])
      void reply
        .header('cache-control', 'no-store')
        .type(OPEN_METRICS_TYPE)
        .serializer((body: string) => body)
        .send(text)
    },
  )
}

export function machineRoutes(deps: AppDeps, sessions: Sessions, hub: EventHub): FastifyPluginAsyncZod {
  return async (app) => {
    eventsRoute(app, deps, sessions, hub)
    metricsRoute(app, deps, sessions, hub)
  }
}
