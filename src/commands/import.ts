import { readFileSync } from 'node:fs'
import type { Line } from '../daemon/line.js'
import type { Arrival } from '../model/sample.js'
import { payloadUnit } from '../model/payload-units.js'
import { ROLES } from '../model/roles.js'
import type { DaemonSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { readCapture } from '../receive/capture.js'
import type { Store } from '../record/store.js'
import { deriveFrom, quietLine } from './derive.js'
import { progress } from './progress.js'
import { Failed, ownStore, readConfig, type Surroundings, WrongWords } from './words.js'

const BATCH = 1_000

/**
 * `import`: captures, or CSV of time,name,value,unit, into the store. What is there already is left alone; the days
 * touched are derived again. Can be stopped and begun again without harm.
 */
export function importFiles(
  words: { readonly config: string; readonly in: readonly string[]; readonly site?: string; readonly logLevel: string },
  world: Surroundings,
): number {
  const settings = readConfig(words.config)
  const store = ownStore(settings, world)
  try {
    const line = quietLine(settings, store, words.logLevel)
    const earliest = new Map<string, Ms>()
    for (const file of words.in) {
      const before = line.counts.samples
      if (file.endsWith('.csv')) importCsv(file, settings, words.site, line, earliest)
      else importCapture(file, line, store, world, earliest)
      world.out(`${file}: ${line.counts.samples - before} new samples\n`)
    }
    deriveFrom(line, store, earliest, world)
    for (const site of settings.sites) {
      for (const { reason, board, count } of store.refusals(site.id)) {
        world.out(`${site.id}${board === '' ? '' : ` ${board}`}: ${count} refused so far as ${reason}\n`)
      }
    }
    return 0
  } finally {
    store.close()
  }
}

/** One capture into the store, in bounded commits; `earliest` learns where derived data is touched. */
export function importCapture(
  file: string,
  line: Line,
  store: Store,
  world: Surroundings,
  earliest: Map<string, Ms>,
): void {
  const bar = progress(world, null)
  let batch: Arrival[] = []
  const flush = (): void => {
    if (batch.length === 0) return
    line.keep(batch, (site, t) => note(earliest, site, t))
    bar.to(line.counts.messages, () => `${line.counts.messages} messages`)
    batch = []
    if (store.sealDue(world.clock.now())) store.seal(world.clock.now())
    if (world.stop.aborted) throw new Failed('stopped; run the same import again to go on')
  }
  for (const arrival of readCapture(file)) {
    batch.push(arrival)
    if (batch.length >= BATCH) flush()
  }
  flush()
  bar.end()
}

function note(earliest: Map<string, Ms>, site: string, t: Ms): void {
  const known = earliest.get(site)
  if (known === undefined || t < known) earliest.set(site, t)
}

function importCsv(
  file: string,
  settings: DaemonSettings,
  named: string | undefined,
  line: Line,
  earliest: Map<string, Ms>,
): void {
  const id = named ?? (settings.sites.length === 1 ? settings.sites[0]?.id : undefined)
  const site = id === undefined ? null : line.site(id)
  if (site === null) throw new WrongWords('--site is needed: the configuration has several, and CSV names none')
  const rows = readFileSync(file, 'utf8')
    .replace(/^\ufeff/, '')
    .split(/\r?\n/)
  if (rows[0]?.trim() !== 'time,name,value,unit') {
    throw new Failed(`${file}:1: found "${rows[0] ?? ''}", expected the header time,name,value,unit`)
  }
  rows.slice(1).forEach((row, i) => {
    if (row.trim() === '') return
    const [time = '', name = '', value = '', unit = ''] = row.split(',').map((cell) => cell.trim())
    const where = `${file}:${i + 2}`
    const t = Date.parse(time)
    if (Number.isNaN(t))
      throw new Failed(`${where}: time "${time}": expected ISO 8601 with a zone, as 2026-05-01T06:00:00Z`)
    const index = site.indexOf(name)
    const signal = site.engine.plan.signals[index]
    if (signal === undefined)
      throw new Failed(`${where}: name "${name}": expected one of ${site.engine.signals.join(', ')}`)
    const conversion = payloadUnit(ROLES[signal.role].unit, unit)
    if (conversion === null) throw new Failed(`${where}: unit "${unit}" does not fit ${name}`)
    const number = value === 'true' ? 1 : value === 'false' ? 0 : value === '' ? Number.NaN : Number(value)
    if (!Number.isFinite(number)) throw new Failed(`${where}: value "${value}": expected a number, or true or false`)
    line.keepSample(site, index, t, number * conversion.scale + conversion.offset)
    note(earliest, site.site.id, t)
  })
  line.commitKept()
}
