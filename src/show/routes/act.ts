/** The routes that act. All of them need an owner and the act header (see the guard). */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { LIMITS } from '../../model/limits.js'
import { MINUTE } from '../../model/time.js'
import { requirePerson } from '../access/guard.js'
import { askedSite, iso, SiteQuery, TimeOrNull } from '../bodies/common.js'
import { JournalBody, journalBody } from '../bodies/history.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'

const AlarmParams = z.object({ key: z.string().max(256).describe('The alarm’s key, percent-encoded') })
const Done = z.object({ done: z.literal(true) })
const Line = z.string().trim().max(200)

const ShelveBody = z.strictObject({
  minutes: z.number().int().min(1).max(LIMITS.shelveMinutesMax).describe('Shelving ends by itself'),
  reason: Line.min(1),
})
const JournalAsked = z.strictObject({
  text: z.string().trim().min(1).max(LIMITS.journalCharsMax),
  new_baseline: z.boolean().default(false),
  upkeep: z.string().max(60).nullable().default(null).describe('Name of the upkeep that was done'),
})
const AwayAsked = z.strictObject({ away: z.boolean().nullable().describe('null: back to calendar and signal') })
const MaintenanceAsked = z.strictObject({
  minutes: z.number().int().min(0).max(LIMITS.maintenanceMinutesMax).describe('0 ends maintenance now'),
})

const owner = { needs: 'owner' } as const

function noSuchAlarm(key: string): ApiError {
  return new ApiError(404, `No alarm "${key}" is active`, 'key')
}

type App = Parameters<FastifyPluginAsyncZod>[0]

function acknowledgeRoute(app: App, { source }: AppDeps): void {
  app.post(
    '/api/alarms/:key/acknowledge',
    {
      config: owner,
      schema: {
        summary: 'Acknowledge an alarm; harmless twice',
        tags: ['act'],
        params: AlarmParams,
        querystring: SiteQuery,
        response: { 200: Done, ...COMMON_ERRORS },
      },
    },
    (request) => {
      const site = askedSite(source, request.query.site)
      const { key } = request.params
      if (source.acknowledge(site.id, key, requirePerson(request).name) === 'unknown') throw noSuchAlarm(key)
      return { done: true as const }
    },
  )
}

function shelveRoute(app: App, { source }: AppDeps): void {
  app.post(
    '/api/alarms/:key/shelve',
    {
      config: owner,
      schema: {
        summary: 'Put an alarm aside for a time, with a reason',
        tags: ['act'],
        params: AlarmParams,
        querystring: SiteQuery,
        body: ShelveBody,
        response: { 200: z.object({ until: z.iso.datetime() }), ...COMMON_ERRORS },
      },
    },
    (request) => {
      const site = askedSite(source, request.query.site)
      const { key } = request.params
      const until = source.now() + request.body.minutes * MINUTE
      const by = requirePerson(request).name
      if (source.shelve(site.id, key, until, request.body.reason, by) === 'unknown') throw noSuchAlarm(key)
      return { until: iso(until) }
    },
  )
}

function journalRoute(app: App, { source }: AppDeps): void {
  app.post(
    '/api/journal',
    {
      config: owner,
      schema: {
        summary: 'Write into the service log; an entry may start a new baseline',
        tags: ['act'],
        querystring: SiteQuery,
        body: JournalAsked,
        response: { 201: JournalBody, ...COMMON_ERRORS },
      },
    },
    (request, reply) => {
      const site = askedSite(source, request.query.site)
      const { upkeep } = request.body
      if (upkeep !== null && !site.upkeep.some(({ name }) => name === upkeep)) {
        const known = site.upkeep.map(({ name }) => name).join(', ')
        throw new ApiError(400, `No upkeep is called "${upkeep}"`, 'upkeep', known === '' ? 'one under upkeep' : known)
      }
      const entry = source.addJournal({
        site: site.id,
        at: source.now(),
        by: requirePerson(request).name,
        text: request.body.text,
        newBaseline: request.body.new_baseline,
        upkeep,
      })
      void reply.code(201).send(journalBody(entry))
    },
  )
}

function awayRoute(app: App, { source }: AppDeps): void {
  app.post(
    '/api/away',
    {
      config: owner,
      schema: {
        summary: 'Say whether anybody is there',
        tags: ['act'],
        querystring: SiteQuery,
        body: AwayAsked,
        response: { 200: Done, ...COMMON_ERRORS },
      },
    },
    (request) => {
      const site = askedSite(source, request.query.site)
      source.setAway(site.id, request.body.away, requirePerson(request).name)
      return { done: true as const }
    },
  )
}

function maintenanceRoute(app: App, { source }: AppDeps): void {
  app.post(
    '/api/maintenance',
    {
      config: owner,
      schema: {
        summary: 'Hold messages back while somebody works there; ends by itself',
        tags: ['act'],
        querystring: SiteQuery,
        body: MaintenanceAsked,
        response: { 200: z.object({ until: TimeOrNull }), ...COMMON_ERRORS },
      },
    },
    (request) => {
      const site = askedSite(source, request.query.site)
      const until = request.body.minutes === 0 ? null : source.now() + request.body.minutes * MINUTE
      source.setMaintenance(site.id, until, requirePerson(request).name)
      return { until: until === null ? null : iso(until) }
    },
  )
}

export function actRoutes(deps: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    acknowledgeRoute(app, deps)
    shelveRoute(app, deps)
    journalRoute(app, deps)
    awayRoute(app, deps)
    maintenanceRoute(app, deps)
  }
}
