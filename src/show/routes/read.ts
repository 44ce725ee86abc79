/** The routes that read: now, series, cycles, days, alarms, journal, what was refused. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import { LIMITS } from '../../model/limits.js'
import { ROLES, type RoleSpec, roleOfKey } from '../../model/roles.js'
import { DAY } from '../../model/time.js'
import { requirePerson } from '../access/guard.js'
import { AlarmBody, alarmBody } from '../bodies/alarms.js'
import { buildNow } from '../bodies/build-now.js'
import { AskedDate, AskedTime, askedSite, askedSpan, iso, SiteQuery } from '../bodies/common.js'
import {
  AsideBody,
  asideBody,
  CycleBody,
  cycleBody,
  DayBody,
  dayBody,
  JournalBody,
  journalBody,
  BrokerRefusedBody,
  brokerRefusedBody,
  RefusedBody,
  refusedBody,
} from '../bodies/history.js'
import { NowBody } from '../bodies/now.js'
import { rowsWithGaps, SeriesBody } from '../bodies/series.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'
import { dateKey } from '../words/when.js'

const Span = SiteQuery.extend({ from: AskedTime.optional(), to: AskedTime.optional() })
const SeriesQuery = Span.extend({ points: z.coerce.number().int().min(2).max(LIMITS.chartPointsMax).default(600) })
const CyclesQuery = Span.extend({ limit: z.coerce.number().int().min(1).max(LIMITS.rowsMax).default(100) })
const DaysQuery = SiteQuery.extend({ from: AskedDate.optional(), to: AskedDate.optional() })

/** Alarms beside those that are active; old ones are asked for by `from`. */
const ALARMS_USUAL_MS = 30 * DAY
const JOURNAL_USUAL_MS = 2 * 365 * DAY
const CYCLES_USUAL_MS = 60 * DAY
const DAYS_USUAL = 31

type App = Parameters<FastifyPluginAsyncZod>[0]

function nowRoute(app: App, deps: AppDeps): void {
  const { source } = deps
  app.get(
    '/api/now',
    {
      schema: {
        summary: 'What is so now',
        tags: ['read'],
        querystring: SiteQuery,
        response: { 200: NowBody, ...COMMON_ERRORS },
      },
    },
    (request) => {
      const site = askedSite(source, request.query.site)
      return buildNow(source, site, requirePerson(request), deps.access === 'accounts')
    },
  )
}

function seriesRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/series/:role',
    {
      schema: {
        summary: 'The course of one signal, its extremes kept and its gaps explicit',
        description: 'role: a role, or role.label where the site has several of one role.',
        tags: ['read'],
        params: z.object({ role: z.string().max(128) }),
        querystring: SeriesQuery,
        response: { 200: SeriesBody, ...COMMON_ERRORS },
      },
    },
    (request) => {
      const { query, params } = request
      const site = askedSite(source, query.site)
      const now = source.now()
      const { from, to } = askedSpan(query, now, DAY, LIMITS.chartSpanMaxMs)
      const board = site.boards.find((one) => one.signals.some((signal) => signal.key === params.role))
      const role = roleOfKey(params.role)
      if (board === undefined || role === null) {
        const keys = site.boards.flatMap((one) => one.signals.map((signal) => signal.key)).join(', ')
        throw new ApiError(404, `${site.id} has no signal "${params.role}"; it has: ${keys}`, 'role', keys)
      }
      const points = source.chart(site.id, params.role, from, to, query.points)
      return {
        site: site.id,
        role: params.role,
        unit: ROLES[role].unit,
        from: iso(from),
        to: iso(to),
        expect_every_s: board.expectEveryS,
        ...sureness(board.signals.find(({ key }) => key === params.role)?.sd ?? null, ROLES[role]),
        rows: rowsWithGaps(points, from, Math.min(to, now), board.expectEveryS),
      }
    },
  )
}

/** As the engine takes it: what the configuration says of the sensor, else what a cheap one of its kind can do. */
function sureness(configured: number | null, spec: RoleSpec): { sd: number; gain_sd: number } {
  return { sd: configured ?? spec.sd, gain_sd: spec.gainSd }
}

function cyclesRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/cycles',
    {
      schema: {
        summary: 'Runs of the well pump, ascending',
        tags: ['read'],
        querystring: CyclesQuery,
        response: { 200: z.object({ site: z.string(), cycles: z.array(CycleBody) }), ...COMMON_ERRORS },
      },
    },
    ({ query }) => {
      const site = askedSite(source, query.site)
      const { from, to } = askedSpan(query, source.now(), CYCLES_USUAL_MS, LIMITS.chartSpanMaxMs)
      return { site: site.id, cycles: source.cycles(site.id, from, to, query.limit).map(cycleBody) }
    },
  )
}

function daysRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/days',
    {
      schema: {
        summary: 'Days of the site’s own calendar, both ends included',
        tags: ['read'],
        querystring: DaysQuery,
        response: { 200: z.object({ site: z.string(), days: z.array(DayBody) }), ...COMMON_ERRORS },
      },
    },
    ({ query }) => {
      const site = askedSite(source, query.site)
      const to = query.to ?? dateKey(source.now(), site.timezone)
      const from = query.from ?? iso(Date.parse(to) - (DAYS_USUAL - 1) * DAY).slice(0, 10)
      if (from > to) throw new ApiError(400, '"from" must not be after "to"', 'from', `a date up to ${to}`)
      if (Date.parse(to) - Date.parse(from) > LIMITS.daysMax * DAY) {
        throw new ApiError(400, `"from" is too far back: at most ${LIMITS.daysMax} days at once`, 'from')
      }
      return { site: site.id, days: source.days(site.id, from, to).map(dayBody) }
    },
  )
}

function alarmsRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/alarms',
    {
      schema: {
        summary: 'Active alarms, and those raised in the span',
        tags: ['read'],
        querystring: Span,
        response: {
          200: z.object({ site: z.string(), active: z.array(AlarmBody), past: z.array(AlarmBody) }),
          ...COMMON_ERRORS,
        },
      },
    },
    ({ query }) => {
      const site = askedSite(source, query.site)
      const { from, to } = askedSpan(query, source.now(), ALARMS_USUAL_MS, LIMITS.chartSpanMaxMs)
      const past = source.alarms(site.id, from, to).filter((alarm) => alarm.cleared !== null)
      return {
        site: site.id,
        active: source.activeAlarms(site.id).map(alarmBody),
        past: past.slice(-LIMITS.rowsMax).map(alarmBody),
      }
    },
  )
}

function journalRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/journal',
    {
      schema: {
        summary: 'The service log, ascending',
        tags: ['read'],
        querystring: Span,
        response: { 200: z.object({ site: z.string(), entries: z.array(JournalBody) }), ...COMMON_ERRORS },
      },
    },
    ({ query }) => {
      const site = askedSite(source, query.site)
      const { from, to } = askedSpan(query, source.now() + 1, JOURNAL_USUAL_MS, LIMITS.chartSpanMaxMs)
      const entries = source.journal(site.id, from, to).slice(-LIMITS.rowsMax)
      return { site: site.id, entries: entries.map(journalBody) }
    },
  )
}

function refusedRoute(app: App, { source }: AppDeps): void {
  app.get(
    '/api/refused',
    {
      schema: {
        summary: 'Records that were not believed, counted by reason and board; messages kept aside',
        tags: ['read'],
        querystring: SiteQuery,
        response: {
          200: z.object({
            site: z.string(),
            refused: z.array(RefusedBody),
            broker: z.array(BrokerRefusedBody).describe('Turned away by the own broker since the start, newest first'),
            kept_aside: z.array(AsideBody),
          }),
          ...COMMON_ERRORS,
        },
      },
    },
    ({ query }) => {
      const site = askedSite(source, query.site)
      return {
        site: site.id,
        refused: source.refusals(site.id).map(refusedBody),
        broker: source.brokerRefusals(site.id).map(brokerRefusedBody),
        kept_aside: source.keptAside(site.id).slice(0, LIMITS.keptAsideMax).map(asideBody),
      }
    },
  )
}

export function readRoutes(deps: AppDeps): FastifyPluginAsyncZod {
  return async (app) => {
    nowRoute(app, deps)
    seriesRoute(app, deps)
    cyclesRoute(app, deps)
    daysRoute(app, deps)
    alarmsRoute(app, deps)
    journalRoute(app, deps)
    refusedRoute(app, deps)
  }
}
