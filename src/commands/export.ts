import { ROLES } from '../model/roles.js'
import type { SiteSettings } from '../model/settings.js'
import { DAY, type Ms } from '../model/time.js'
import { signalsOf } from '../infer/plan.js'
import { openStore, type Store } from '../record/store.js'
import { csvLine } from '../show/files/csv.js'
import { ALARMS, CYCLES, DAYS, JOURNAL, SAMPLES, type Table } from '../show/files/tables.js'
import { instant, oneSite, readConfig, type Surroundings } from './words.js'

export const EXPORTS = ['samples', 'cycles', 'days', 'alarms', 'journal'] as const
export type ExportKind = (typeof EXPORTS)[number]

export type ExportWords = {
  readonly config: string
  readonly what: ExportKind
  readonly site?: string
  readonly from?: string
  readonly to?: string
  readonly format: 'csv' | 'json'
}

const ROWS_MAX = 1_000_000

/** `export`: a table of the store on standard output, read beside a running daemon. */
export function exportTable(words: ExportWords, world: Surroundings): number {
  const settings = readConfig(words.config)
  const site = oneSite(settings, words.site)
  const from = words.from === undefined ? 0 : instant(words.from, '--from')
  const to = words.to === undefined ? Number.MAX_SAFE_INTEGER : instant(words.to, '--to')
  const store = openStore({ file: settings.store.file, now: world.clock.now(), readOnly: true })
  try {
    const write = <T>(table: Table<T>, items: Iterable<T>): void => {
      if (words.format === 'csv') world.out(csvLine(table.columns))
      for (const item of items) world.out(words.format === 'csv' ? csvLine(table.row(item)) : jsonLine(table, item))
    }
    switch (words.what) {
      case 'samples':
        write(SAMPLES, samples(store, site, from, to))
        break
      case 'cycles':
        write(CYCLES, store.cycles.list(site.id, from, to, ROWS_MAX))
        break
      case 'days':
        write(DAYS, days(store, site, from, to))
        break
      case 'alarms':
        write(ALARMS, store.alarms.list(site.id, from, to, ROWS_MAX))
        break
      case 'journal':
        write(JOURNAL, store.journal.list(site.id, from, to))
    }
    return 0
  } finally {
    store.close()
  }
}

function jsonLine<T>(table: Table<T>, item: T): string {
  const cells = table.row(item)
  return `${JSON.stringify(Object.fromEntries(table.columns.map((column, i) => [column, cells[i] ?? null])))}\n`
}

function days(store: Store, site: SiteSettings, from: Ms, to: Ms) {
  return store.days.list(site.id, '0000', '9999').filter((day) => day.end > from && day.start < to)
}

/** Day by day, so that no more than a day is held at once. Failed readings (NaN) are no numbers and are left out. */
function* samples(store: Store, site: SiteSettings, from: Ms, to: Ms) {
  const signals = signalsOf(site).map(({ signal }) => signal)
  const series = signals.map((signal) => store.series(site.id, signal.key))
  const first = store.days.list(site.id, '0000', '9999')[0]?.start ?? from
  const last = series.reduce((latest, one) => Math.max(latest, store.lastSample(one)?.t ?? 0), 0)
  for (let at = Math.max(from, first - DAY); at <= Math.min(to, last); at += DAY) {
    const rows: { key: string; t: Ms; value: number; unit: string }[] = []
    store.read(series, at, Math.min(to, at + DAY), (index, t, value) => {
      const signal = signals[index]
      if (signal !== undefined && !Number.isNaN(value)) {
        rows.push({ key: signal.key, t, value, unit: ROLES[signal.role].unit })
      }
    })
    yield* rows
  }
}
