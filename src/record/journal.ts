import { LIMITS } from '../model/limits.js'
import type { JournalEntry } from '../model/modes.js'
import type { Ms } from '../model/time.js'
import { flag } from './rows.js'
import type { Sql } from './sql.js'

export type NewEntry = Omit<JournalEntry, 'id' | 'upkeep'> & { readonly upkeep?: string | null }

export type Journal = {
  /** Adds an entry to the service log and returns it with its id. */
  add(entry: NewEntry): JournalEntry
  /** Entries with from ≤ at < to, ascending; of very many the newest. */
  list(site: string, from: Ms, to: Ms): readonly JournalEntry[]
}

type Row = {
  id: number
  site: string
  at: number
  by: string
  text: string
  new_baseline: number
  upkeep: string | null
}

export function createJournal(sql: Sql): Journal {
  const add = sql.prepare<[string, number, string, string, number | null, string | null]>(
    'write the service log',
    'INSERT INTO journal (site, at, by, text, new_baseline, upkeep) VALUES (?, ?, ?, ?, ?, ?)',
  )
  const list = sql.prepare<[string, number, number, number], Row>(
    'read the service log',
    `SELECT id, site, at, by, text, new_baseline, upkeep FROM journal
     WHERE site = ? AND at >= ? AND at < ? ORDER BY at DESC, id DESC LIMIT ?`,
  )
  return {
    add: (given) => {
      const entry = { ...given, upkeep: given.upkeep ?? null }
      const { site, at, by, text, newBaseline, upkeep } = entry
      return { ...entry, id: add.insert(site, at, by, text, flag(newBaseline), upkeep) }
    },
    list: (site, from, to) =>
      list
        .all(site, from, to, LIMITS.listRowsMax)
        .map(({ new_baseline, ...rest }) => ({ ...rest, newBaseline: new_baseline !== 0 }))
        .reverse(),
  }
}
