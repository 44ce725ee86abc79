import { LIMITS } from '../model/limits.js'
import type { Refusal, RefusalReason } from '../model/sample.js'
import { REFUSALS } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import type { Sql, Statement } from './sql.js'

/** How often records of one board were refused for one reason. */
export type RefusalCount = {
  readonly reason: RefusalReason
  readonly board: string
  readonly count: number
  readonly first: Ms
  readonly last: Ms
  readonly example: string
}

type Row = { reason: string; board: string; count: number; first: number; last: number; example: string }

function added(before: RefusalCount | undefined, refusal: Refusal, board: string): RefusalCount {
  const example = refusal.example.slice(0, LIMITS.exampleCharsMax)
  const { at, reason } = refusal
  if (before === undefined) return { reason, board, count: 1, first: at, last: at, example }
  return {
    reason,
    board,
    count: before.count + 1,
    first: Math.min(before.first, at),
    last: Math.max(before.last, at),
    example,
  }
}

function summed(a: RefusalCount | undefined, b: RefusalCount): RefusalCount {
  if (a === undefined) return b
  const first = Math.min(a.first, b.first)
  return { ...b, count: a.count + b.count, first, last: Math.max(a.last, b.last) }
}

/** Counts of refused records: gathered in memory, written with the next commit, dropped when that fails. */
export class Refusals {
  readonly #pending = new Map<string, Map<string, RefusalCount>>()
  readonly #known = new Map<string, Set<string>>()
  readonly #upsert: Statement<[string, string, string, number, number, number, string], never>
  readonly #list: Statement<[string], Row>

  constructor(sql: Sql) {
    this.#upsert = sql.prepare(
      'count refusals',
      `INSERT INTO refusal (site, reason, board, count, first, last, example) VALUES (?, ?, ?, ?, ?, ?, ?)
       ON CONFLICT (site, reason, board) DO UPDATE SET count = count + excluded.count,
         first = min(first, excluded.first), last = max(last, excluded.last), example = excluded.example`,
    )
    this.#list = sql.prepare(
      'read refusals',
      'SELECT reason, board, count, first, last, example FROM refusal WHERE site = ? ORDER BY reason, board',
    )
  }

  get pending(): boolean {
    return this.#pending.size > 0
  }

  note(site: string, refusal: Refusal): void {
    const rows = this.#pending.get(site) ?? new Map<string, RefusalCount>()
    const board = this.#bounded(site, refusal)
    const key = `${refusal.reason} ${board}`
    rows.set(key, added(rows.get(key), refusal, board))
    this.#pending.set(site, rows)
  }

  /** Committed and pending counts, by reason and board. */
  list(site: string): readonly RefusalCount[] {
    const all = new Map<string, RefusalCount>()
    for (const row of this.#rows(site)) all.set(`${row.reason} ${row.board}`, row)
    for (const [key, row] of this.#pending.get(site) ?? []) all.set(key, summed(all.get(key), row))
    return [...all.values()]
  }

  write(): void {
    for (const [site, rows] of this.#pending) {
      for (const row of rows.values()) {
        this.#upsert.run(site, row.reason, row.board, row.count, row.first, row.last, row.example)
      }
    }
  }

  clear(): void {
    this.#pending.clear()
  }

  #rows(site: string): RefusalCount[] {
    return this.#list.all(site).flatMap((row) => {
      const reason = REFUSALS.find((one) => one === row.reason)
      return reason === undefined ? [] : [{ ...row, reason }]
    })
  }

  // A board's name may come from a topic, that is from anyone: past the bound all count as one board without name.
  #bounded(site: string, refusal: Refusal): string {
    let known = this.#known.get(site)
    if (known === undefined) {
      known = new Set(this.#rows(site).map((row) => `${row.reason} ${row.board}`))
      this.#known.set(site, known)
    }
    const board = refusal.board.slice(0, LIMITS.exampleCharsMax)
    const key = `${refusal.reason} ${board}`
    if (known.has(key)) return board
    if (known.size >= LIMITS.refusalRowsMax) return ''
    known.add(key)
    return board
  }
}
