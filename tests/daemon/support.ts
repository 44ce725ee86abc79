import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { ordinaryLife } from '../../simulators/ordinary.js'
import { type SimulateOptions, simulate } from '../../simulators/simulate.js'
import { loadConfig } from '../../src/config/index.js'
import { Line, type LineEvents } from '../../src/daemon/line.js'
import { DAEMON_WELL } from '../../src/model/daemon-facts.js'
import type { Arrival } from '../../src/model/sample.js'
import type { SiteSettings } from '../../src/model/settings.js'
import { type Ms, SECOND } from '../../src/model/time.js'
import { openStore, type Store } from '../../src/record/store.js'
import type { Log } from '../../src/runtime/log.js'

export type SiteId = 'juniper' | 'fern'

/** A spring evening at both places, local midnight at juniper. */
export const START: Ms = Date.UTC(2026, 4, 4, 7)

const ROOT = fileURLToPath(new URL('../..', import.meta.url))

/** The settings of an example site, as its file in config/ says. */
export function siteOf(id: SiteId): SiteSettings {
  const loaded = loadConfig(join(ROOT, 'config', `${id}.yaml`))
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))
  const [site] = loaded.settings.sites
  if (site === undefined) throw new Error(`config/${id}.yaml names no site`)
  return site
}

/** Nothing may be logged as an error in these tests: what would be is thrown. */
export const LOG: Log = {
  debug: () => {},
  info: () => {},
  warn: () => {},
  error: (fields, message) => {
    throw new Error(`logged: ${message} ${JSON.stringify(fields)}`)
  },
}

export type CaptureOptions = Partial<SimulateOptions> & { readonly site: SiteId; readonly days: number }

/** A simulated capture; only every `every`-th message of each board, so that the tests stay short. */
export function captureOf(options: CaptureOptions, every = 3): Arrival[] {
  const arrivals: Arrival[] = []
  const counts = new Map<string, number>()
  for (const { at, topic, payload } of simulate({ seed: 11, startMs: START, ...options }).messages) {
    const count = counts.get(topic) ?? 0
    counts.set(topic, count + 1)
    if (count % every === 0) arrivals.push({ at, topic, payload: Buffer.from(payload), retain: false })
  }
  return arrivals
}

export function ordinary(days: number): Partial<SimulateOptions> {
  return ordinaryLife(3, days)
}

export type LineSetup = {
  readonly store?: Store
  readonly judging?: boolean
  readonly events?: LineEvents
  readonly log?: Log
}

export function freshStore(): Store {
  return openStore({ file: ':memory:', now: 0 })
}

export function lineOf(
  site: SiteSettings,
  { store = freshStore(), judging = false, events, log = LOG }: LineSetup = {},
) {
  const line = new Line({
    sites: [site],
    store,
    log,
    judging,
    link: () => null,
    ...(events === undefined ? {} : { events }),
  })
  return { line, store }
}

export type Derived = { readonly cycles: string; readonly days: string; readonly fills: number }

/** Cycles and days as they are stored, as text: equal only byte for byte. */
export function derived(store: Store, site: SiteSettings): Derived {
  const cycles = store.cycles.list(site.id, 0, Number.MAX_SAFE_INTEGER)
  return {
    cycles: JSON.stringify(cycles, null, 1),
    days: JSON.stringify(store.days.list(site.id, '0000', '9999'), null, 1),
    fills: cycles.length,
  }
}

/** Steps the line on its 15 s grid from after `from` to `to`, as the daemon's loop does. */
export function stepThrough(line: Line, from: Ms, to: Ms, everyMs: Ms = 15 * SECOND): void {
  for (let now = from - (from % everyMs) + everyMs; now <= to; now += everyMs) line.step(now, () => DAEMON_WELL)
}

/** Receives and steps as a living daemon does, without the end of a replay: it may be killed after any of it. */
export function live(line: Line, arrivals: readonly Arrival[], everyMs: Ms = 15 * SECOND): void {
  let next = Number.NaN
  let batch: Arrival[] = []
  for (const arrival of arrivals) {
    if (Number.isNaN(next)) next = arrival.at - (arrival.at % everyMs) + everyMs
    while (arrival.at >= next) {
      if (batch.length > 0) line.receive(batch)
      batch = []
      line.step(next, () => DAEMON_WELL)
      next += everyMs
    }
    batch.push(arrival)
  }
  if (batch.length > 0) line.receive(batch)
}

/** What daemon.ts does at start: every site takes up its stored state. */
export function resume(line: Line, now: Ms): void {
  for (const site of line.sites) site.resume(now - 10 * SECOND)
}
