import type { Ms } from '../model/time.js'
import type { Sql } from './sql.js'

export type JudgeStates = {
  /** Keeps the judge's state as of its look at `at`, in place of the one before. */
  save(site: string, at: Ms, text: string): void
  load(site: string): { readonly at: Ms; readonly text: string } | null
}

export function createJudgeStates(sql: Sql): JudgeStates {
  const save = sql.prepare<[string, number, string]>(
    'keep the state of the judge',
    'INSERT OR REPLACE INTO judge_state (site, at, text) VALUES (?, ?, ?)',
  )
  const load = sql.prepare<[string], { at: number; text: string }>(
    'read the state of the judge',
    'SELECT at, text FROM judge_state WHERE site = ?',
  )
  return {
    save: (site, at, text) => {
      save.run(site, at, text)
    },
    load: (site) => load.get(site) ?? null,
  }
}
