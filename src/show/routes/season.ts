/** Closing a place for the winter and opening it again: the list, what of it is done, and the word that it is so. */
import type { FastifyPluginAsyncZod } from 'fastify-type-provider-zod'
import { z } from 'zod'
import type { JournalEntry } from '../../model/modes.js'
import { DAY, type Ms } from '../../model/time.js'
import { requirePerson } from '../access/guard.js'
import { askedSite, iso, SiteQuery, TimeOrNull } from '../bodies/common.js'
import { ApiError, COMMON_ERRORS } from '../errors.js'
import type { AppDeps } from '../source.js'
import { CLOSING_STEPS, OPENING_STEPS } from '../words/season-lists.js'

const Asked = z.strictObject({
  winterized: z.boolean().describe('true: the list for closing, false: the one for opening'),
  done: z
    .array(z.string().max(300))
    .max(CLOSING_STEPS.length + OPENING_STEPS.length)
    .default([])
    .describe('Steps of that list that are done, in its own words; each goes into the journal'),
  finished: z.boolean().default(true).describe('false: only the steps are noted, the place is as it was'),
})

const StepBody = z.object({ step: z.string(), done_at: TimeOrNull, by: z.string().nullable() })
const SeasonBody = z.object({
  winterized: z.boolean(),
  closing: z.array(StepBody).describe('Done since the place was last opened'),
  opening: z.array(StepBody).describe('Done since it was last closed'),
})

/** How the journal calls it. `CLOSED` and `OPENED` are written by the daemon as the mode is set. */
const CLOSED = 'Closed for winter'
const OPENED = 'Opened after winter'
const PREFIX = { closing: 'Closing, done: ', opening: 'Opening, done: ' } as const
/** A list that was begun longer ago than this belongs to another year. */
const SEASON_MS = 300 * DAY

function ticks(list: 'closing' | 'opening', journal: readonly JournalEntry[]) {
  const over = list === 'closing' ? OPENED : CLOSED
  const from = journal.findLastIndex(({ text }) => text === over) + 1
  const since = journal.slice(from)
  return (list === 'closing' ? CLOSING_STEPS : OPENING_STEPS).map((step) => {
    const found = since.findLast(({ text }) => text === PREFIX[list] + step)
    return { step, done_at: found === undefined ? null : iso(found.at), by: found?.by ?? null }
  })
}

function checkSteps(done: readonly string[], steps: readonly string[]): void {
  const strange = done.find((step) => !steps.includes(step))
  if (strange !== undefined) {
    throw new ApiError(400, `"${strange.slice(0, 80)}" is no step of this list`, 'done', steps.join(' | '))
  }
}

export function seasonRoutes({ source }: AppDeps): FastifyPluginAsyncZod {
  const body = (site: string, now: Ms) => {
    const journal = source.journal(site, now - SEASON_MS, now + 1)
    return {
      winterized: source.state(site).modes.winterized,
      closing: ticks('closing', journal),
      opening: ticks('opening', journal),
    }
  }
  return async (app) => {
    app.get(
      '/api/season',
      {
        schema: {
          summary: 'The lists for closing and opening, and what of them is done',
          tags: ['read'],
          querystring: SiteQuery,
          response: { 200: SeasonBody, ...COMMON_ERRORS },
        },
      },
      (request) => body(askedSite(source, request.query.site).id, source.now()),
    )

    app.post(
      '/api/season',
      {
        config: { needs: 'owner' },
        schema: {
          summary: 'Say that the place is drained for the winter, or in use again; and which steps are done',
          tags: ['act'],
          querystring: SiteQuery,
          body: Asked,
          response: { 200: z.object({ done: z.literal(true) }), ...COMMON_ERRORS },
        },
      },
      (request) => {
        const site = askedSite(source, request.query.site)
        const { winterized, done, finished } = request.body
        const list = winterized ? 'closing' : 'opening'
        checkSteps(done, winterized ? CLOSING_STEPS : OPENING_STEPS)
        if (!finished && done.length === 0) throw new ApiError(400, 'Nothing is done and nothing finished', 'done')
        const by = requirePerson(request).name
        for (const step of new Set(done)) {
          const text = PREFIX[list] + step
          source.addJournal({ site: site.id, at: source.now(), by, text, newBaseline: false, upkeep: null })
        }
        if (finished) source.setWinterized(site.id, winterized, by)
        return { done: true as const }
      },
    )
  }
}
