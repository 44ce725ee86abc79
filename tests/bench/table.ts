/** What was measured, as a table for people. */
import { readFileSync } from 'node:fs'
import { cpus, loadavg, release, totalmem, type } from 'node:os'

export type Row = {
  readonly what: string
  /** One value for each round, and what it was measured beside in the same round. */
  readonly values: readonly number[]
  readonly beside: readonly number[]
  readonly unit: string
  /** The least ratio, or value where nothing stands beside it, that is promised; `most` where less is better. */
  readonly least?: number
  readonly most?: number
  readonly note?: string
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  const middle = sorted.length >> 1
  const high = sorted[middle] ?? Number.NaN
  return sorted.length % 2 === 1 ? high : (high + (sorted[middle - 1] ?? Number.NaN)) / 2
}

/** Median of the ratios of each round: both sides of a ratio had the same minute. */
export function ratioOf({ values, beside }: Row): number | null {
  return beside.length === 0 ? null : median(values.map((value, i) => value / (beside[i] ?? Number.NaN)))
}

export function holds(row: Row): boolean {
  const figure = ratioOf(row) ?? median(row.values)
  return (row.least === undefined || figure >= row.least) && (row.most === undefined || figure <= row.most)
}

function shown(value: number): string {
  return value >= 100 ? Math.round(value).toLocaleString('en-US') : value.toFixed(value >= 10 ? 1 : 2)
}

function promised(row: Row): string {
  if (row.least === undefined && row.most === undefined) return ''
  const words = row.least !== undefined ? `at least ${shown(row.least)}` : `at most ${shown(row.most ?? 0)}`
  return holds(row) ? words : `**missed**: ${words}`
}

export function tableOf(rows: readonly Row[]): string {
  const head = '| what | measured | beside it | ratio (each round) | promised |\n|---|---|---|---|---|'
  const lines = rows.map((row) => {
    const ratio = ratioOf(row)
    const each = row.values.map((value, i) => (value / (row.beside[i] ?? Number.NaN)).toFixed(2)).join(', ')
    const what = row.note === undefined ? row.what : `${row.what} (${row.note})`
    const beside = row.beside.length === 0 ? '' : `${shown(median(row.beside))} ${row.unit}`
    const ratios = ratio === null ? '' : `**${shown(ratio)}** (${each})`
    return `| ${what} | ${shown(median(row.values))} ${row.unit} | ${beside} | ${ratios} | ${promised(row)} |`
  })
  return [head, ...lines].join('\n')
}

export function machine(): string {
  const [cpu] = cpus()
  const memory = Math.round(totalmem() / 2 ** 30)
  const load = loadavg().map((one) => one.toFixed(1))
  return `${type()} ${release()}, ${cpus().length} × ${cpu?.model.trim() ?? 'unknown'}, ${memory} GiB, Node ${process.version}; load before the run ${load[0] ?? '?'}`
}

/** Version of an installed package, for the record. */
export function versionOf(name: string): string {
  const text = readFileSync(new URL(`../../node_modules/${name}/package.json`, import.meta.url), 'utf8')
  return (JSON.parse(text) as { version: string }).version
}
