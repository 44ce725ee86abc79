/** What is to be done again and again: when it was last noted, and when it is due. */
import type { JournalEntry } from '../../model/modes.js'
import type { UpkeepSettings } from '../../model/settings.js'
import { DAY, type Ms } from '../../model/time.js'

export type UpkeepDue = {
  readonly name: string
  readonly everyDays: number
  /** When the journal last says that it was done; null: it never does. */
  readonly lastAt: Ms | null
  /** Null where it was never noted: then nobody knows. */
  readonly dueAt: Ms | null
  readonly overdue: boolean
}

/** In the order of the configuration. `journal`: every entry of the site, ascending. */
export function upkeepDue(upkeep: readonly UpkeepSettings[], journal: readonly JournalEntry[], now: Ms): UpkeepDue[] {
  return upkeep.map(({ name, everyDays }) => {
    const lastAt = journal.findLast((entry) => entry.upkeep === name && entry.at <= now)?.at ?? null
    const dueAt = lastAt === null ? null : lastAt + everyDays * DAY
    return { name, everyDays, lastAt, dueAt, overdue: dueAt !== null && dueAt <= now }
  })
}
