/** Pieces that the API's bodies share: times as ISO 8601 UTC, unknown as null, SI with the unit in the name. */
import { z } from 'zod'
import type { Figure } from '../../model/fill.js'
import type { Ms } from '../../model/time.js'
import { ApiError } from '../errors.js'
import type { ShowSource } from '../source.js'
import type { SiteSettings } from '../../model/settings.js'

export const Time = z.iso.datetime().describe('ISO 8601, UTC')
export const TimeOrNull = Time.nullable()
export const NumberOrNull = z.number().nullable()
export const SiteQuery = z.strictObject({
  site: z.string().max(64).optional().describe('Which site; needed only where the daemon has several'),
})

/** A time of a request: any offset is welcome. */
export const AskedTime = z.iso.datetime({
  offset: true,
  error: 'a time such as 2026-02-01T00:00:00Z or 2026-02-01T00:00:00-07:00 is expected',
})

/** A date of the site's own calendar. */
export const AskedDate = z.iso.date({ error: 'a date such as 2026-02-01 is expected' })

/** ISO 8601 in UTC. */
export function iso(t: Ms): string {
  return new Date(t).toISOString()
}

export function isoOrNull(t: Ms | null): string | null {
  return t === null ? null : iso(t)
}

/** A number as JSON may carry it: NaN and infinities are unknown. */
export function numberOrNull(value: number | null): number | null {
  return value !== null && Number.isFinite(value) ? value : null
}

export function centreOf(figure: Figure | null): number | null {
  return figure === null ? null : numberOrNull(figure.value)
}

export function sdOf(figure: Figure | null): number | null {
  return figure === null ? null : numberOrNull(figure.sd)
}

/** The site that a request means: the named one, or the only one. Throws 404 or 400 naming the ids. */
export function askedSite(source: ShowSource, id: string | undefined): SiteSettings {
  const sites = source.sites()
  const ids = sites.map((site) => site.id).join(', ')
  if (id === undefined) {
    const only = sites[0]
    if (only !== undefined && sites.length === 1) return only
    throw new ApiError(400, `"site" is missing: this daemon has several sites (${ids})`, 'site', ids)
  }
  const named = sites.find((site) => site.id === id)
  if (named === undefined) throw new ApiError(404, `There is no site "${id}"; there are: ${ids}`, 'site', ids)
  return named
}

/** A span of a request with its defaults, checked to be in order and within `maxMs`. */
export function askedSpan(
  asked: { readonly from?: string | undefined; readonly to?: string | undefined },
  now: Ms,
  usualMs: number,
  maxMs: number,
): { from: Ms; to: Ms } {
  const to = asked.to === undefined ? now : Date.parse(asked.to)
  const from = asked.from === undefined ? to - usualMs : Date.parse(asked.from)
  if (from >= to) throw new ApiError(400, '"from" must be before "to"', 'from', `a time before ${iso(to)}`)
  if (to - from > maxMs) {
    const days = Math.floor(maxMs / 86_400_000)
    throw new ApiError(400, `"from" is too far back: at most ${days} days at once`, 'from', `at most ${days} days`)
  }
  return { from, to }
}
