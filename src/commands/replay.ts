import { mkdirSync, statSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { Line } from '../daemon/line.js'
import { drive } from '../daemon/replay.js'
import type { Arrival } from '../model/sample.js'
import type { SiteSettings } from '../model/settings.js'
import { DAY, type Ms } from '../model/time.js'
import { readCapture } from '../receive/capture.js'
import { openStore, type Store } from '../record/store.js'
import { csvLine } from '../show/files/csv.js'
import { ALARMS, CYCLES, DAYS, REFUSED, type Table, TOLD, type Told } from '../show/files/tables.js'
import { createTeller, type Teller } from '../tell/teller.js'
import { wayAddress } from '../tell/way-book.js'
import type { Way } from '../tell/way.js'
import { progress } from './progress.js'
import { Failed, logFor, readConfig, type Surroundings } from './words.js'

export type ReplayWords = {
  readonly config: string
  readonly in: readonly string[]
  readonly out: string
  readonly json?: boolean
  readonly logLevel: string
}

const FOREVER = Number.MAX_SAFE_INTEGER
const ROWS_MAX = 1_000_000
const COMMIT_MESSAGES = 500
/** Up to so many samples (16 B each) days are not packed: a month of a site is done before it would pay. */
const OPEN_SAMPLES = 2_000_000

/**
 * `replay`: captures through the whole line into a fresh store, on the capture's own clock; writes the files of the
 * contract's section 6. The files depend on the input alone; how long it took is printed, not written.
 */
export async function replay(words: ReplayWords, world: Surroundings): Promise<number> {
  const settings = readConfig(words.config)
  const log = logFor(words.logLevel)
  const store = openStore({ file: ':memory:', now: 0 })
  const told: Told[] = []
  const clock = { at: 0 }
  const toTell = { waiting: false }
  const onNotices = (): void => {
    toTell.waiting = true
  }
  const line = new Line({ sites: settings.sites, store, log, judging: true, link: () => null, events: { onNotices } })
  const teller = recordingTeller(settings.sites, store, clock, told)
  const tell = async (now: Ms): Promise<void> => {
    await teller.tick(now)
    toTell.waiting = store.outbox.counts().waiting > 0
  }
  const began = world.clock.monotonic()
  const bar = progress(world, bytesOf(words.in))
  try {
    await drive(
      line,
      counted(words.in, (bytes, at) => bar.to(bytes, () => new Date(at).toISOString().slice(0, 10))),
      {
        commitMessages: COMMIT_MESSAGES,
        stopped: () => world.stop.aborted,
        onStep: (now) => {
          clock.at = now
          if (now % DAY === 0) {
            line.commitKept()
            if (store.sizes().openSamples > OPEN_SAMPLES && store.sealDue(now)) store.seal(now)
          }
          return toTell.waiting ? tell(now) : undefined
        },
      },
    )
  } finally {
    bar.end()
  }
  if (world.stop.aborted) throw new Failed('stopped before the end; nothing was written')
  const seconds = (world.clock.monotonic() - began) / 1000
  const written = settings.sites.map((site) => {
    const folder = settings.sites.length === 1 ? words.out : join(words.out, site.id)
    return writeSite(folder, site, store, line, told)
  })
  store.close()
  const speed = {
    run_time_s: round(seconds),
    samples_per_second: Math.round(line.counts.samples / Math.max(seconds, 1e-6)),
  }
  if (words.json === true) world.out(`${JSON.stringify({ sites: written, ...speed })}\n`)
  else {
    for (const site of written) {
      world.out(
        `${site.site}: ${site.fills} fills, ${site.days} days, ${site.alarms} alarms, ${site.told} ${site.told === 1 ? 'message' : 'messages'} told\n`,
      )
    }
    world.out(
      `${line.counts.samples} samples in ${speed.run_time_s} s, ${speed.samples_per_second} a second; files in ${words.out}\n`,
    )
  }
  return 0
}

function round(seconds: number): number {
  return Math.round(seconds * 1000) / 1000
}

function bytesOf(files: readonly string[]): number {
  let sum = 0
  for (const file of files) {
    try {
      sum += statSync(file).size
    } catch (error) {
      throw new Failed(`--in ${file}: ${error instanceof Error ? error.message : String(error)}`)
    }
  }
  return sum
}

/** The arrivals of all files, one file after the other, with a word on how far it is. */
function* counted(files: readonly string[], told: (bytes: number, at: Ms) => void): Generator<Arrival> {
  let bytes = 0
  for (const file of files) {
    for (const arrival of readCapture(file)) {
      bytes += arrival.payload.length + arrival.topic.length + 48
      told(bytes, arrival.at)
      yield arrival
    }
  }
}

/** Ways that only note what would have been sent, and when. */
function recordingTeller(sites: readonly SiteSettings[], store: Store, clock: { at: Ms }, told: Told[]): Teller {
  const ways = new Map<string, Way>()
  for (const site of sites) {
    for (const way of site.tell.ways) {
      ways.set(wayAddress(site.id, way.id), {
        kind: way.kind,
        send(message) {
          told.push({ at: clock.at, message })
          return Promise.resolve({ ok: true })
        },
      })
    }
  }
  const log = { info: () => {}, warn: () => {}, error: () => {} }
  return createTeller({ store, sites, ways, clock: { now: () => clock.at }, log, after: () => () => {} })
}

function write<T>(folder: string, name: string, table: Table<T>, items: readonly T[]): void {
  writeFileSync(join(folder, name), csvLine(table.columns) + items.map((item) => csvLine(table.row(item))).join(''))
}

function writeSite(folder: string, site: SiteSettings, store: Store, line: Line, told: readonly Told[]) {
  mkdirSync(folder, { recursive: true })
  const cycles = store.cycles.list(site.id, 0, FOREVER, ROWS_MAX)
  const days = store.days.list(site.id, '0000', '9999')
  const alarms = store.alarms.list(site.id, 0, FOREVER, ROWS_MAX)
  const refused = store.refusals(site.id)
  const mine = told
    .filter(({ message }) => message.site === site.id)
    .sort((a, b) => a.at - b.at || compare(a.message.key, b.message.key))
  write(folder, 'cycles.csv', CYCLES, cycles)
  write(folder, 'days.csv', DAYS, days)
  write(folder, 'alarms.csv', ALARMS, alarms)
  write(folder, 'told.csv', TOLD, mine)
  write(folder, 'refused.csv', REFUSED, refused)
  const summary = {
    site: site.id,
    messages: line.counts.messages,
    samples: line.counts.samples,
    refused: refused.reduce((sum, one) => sum + one.count, 0),
    fills: cycles.length,
    complete_fills: cycles.filter((cycle) => cycle.complete).length,
    days: days.length,
    alarms: alarms.length,
    told: mine.length,
    pumped_l: total(cycles.map((cycle) => cycle.volumeL?.value ?? null)),
    pump_wh: total(cycles.map((cycle) => cycle.energyWh?.value ?? null)),
    run_s: Math.round(cycles.reduce((sum, cycle) => sum + cycle.durationS, 0)),
  }
  writeFileSync(join(folder, 'summary.json'), `${JSON.stringify(summary, null, 2)}\n`)
  return summary
}

/** Sum of what is known, and of how many; null when nothing is. */
function total(values: readonly (number | null)[]): { readonly sum: number; readonly of: number } | null {
  const known = values.filter((value) => value !== null)
  return known.length === 0
    ? null
    : { sum: Math.round(known.reduce((sum, one) => sum + one, 0) * 10) / 10, of: known.length }
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
