/** The body of `GET /api/upkeep`: what is to be done again and again, and when it is due. */
import { z } from 'zod'
import type { SiteSettings } from '../../model/settings.js'
import { upkeepDue } from '../report/upkeep.js'
import type { ShowSource } from '../source.js'
import { iso, isoOrNull, Time, TimeOrNull } from './common.js'

export const UpkeepBody = z
  .object({
    site: z.string(),
    at: Time,
    upkeep: z.array(
      z.object({
        name: z.string(),
        every_days: z.number(),
        last_at: TimeOrNull.describe('When the journal last says that it was done; null: it never does'),
        due_at: TimeOrNull.describe('Null where it was never noted: then nobody knows'),
        overdue: z.boolean(),
      }),
    ),
  })
  .meta({ id: 'Upkeep' })
export type UpkeepBody = z.infer<typeof UpkeepBody>

export function upkeepBody(source: ShowSource, site: SiteSettings): UpkeepBody {
  const now = source.now()
  const journal = site.upkeep.length === 0 ? [] : source.journal(site.id, 0, now + 1)
  return {
    site: site.id,
    at: iso(now),
    upkeep: upkeepDue(site.upkeep, journal, now).map(({ name, everyDays, lastAt, dueAt, overdue }) => ({
      name,
      every_days: everyDays,
      last_at: isoOrNull(lastAt),
      due_at: isoOrNull(dueAt),
      overdue,
    })),
  }
}
