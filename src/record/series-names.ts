import type { SignalKey } from '../model/roles.js'
import type { Sql, Statement } from './sql.js'

export type SeriesName = { readonly id: number; readonly site: string; readonly key: SignalKey }

/**
 * Numbers for signals. A new one is given out at once and written with the next commit, in the transaction of its
 * first samples: a failed commit leaves it pending, so a number given out stays good.
 */
export class SeriesNames {
  readonly #bySite = new Map<string, Map<SignalKey, number>>()
  readonly #names: SeriesName[] = []
  #pending: SeriesName[] = []
  #next = 1
  readonly #insert: Statement<[number, string, string], never>

  constructor(sql: Sql) {
    this.#insert = sql.prepare('name a series', 'INSERT INTO series (id, site, key) VALUES (?, ?, ?)')
    const rows = sql.prepare<[], SeriesName>('read series', 'SELECT id, site, key FROM series ORDER BY id').all()
    for (const row of rows) this.#add(row)
  }

  id(site: string, key: SignalKey): number {
    const known = this.#bySite.get(site)?.get(key)
    if (known !== undefined) return known
    const name = { id: this.#next, site, key }
    this.#add(name)
    this.#pending.push(name)
    return name.id
  }

  list(site: string): readonly SeriesName[] {
    return this.#names.filter((name) => name.site === site)
  }

  get count(): number {
    return this.#names.length
  }

  write(): void {
    for (const { id, site, key } of this.#pending) this.#insert.run(id, site, key)
  }

  written(): void {
    this.#pending = []
  }

  #add(name: SeriesName): void {
    const keys = this.#bySite.get(name.site) ?? new Map<SignalKey, number>()
    this.#bySite.set(name.site, keys.set(name.key, name.id))
    this.#names.push(name)
    this.#next = Math.max(this.#next, name.id + 1)
  }
}
