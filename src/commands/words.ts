/** What every verb shares: where it writes, how it fails, and how the configuration is read for it. */
import { formatFinding, loadConfig } from '../config/index.js'
import type { DaemonSettings, SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { makeStoreFolder } from '../record/folder.js'
import { openStore, type Store } from '../record/store.js'
import { StoreError } from '../record/store-error.js'
import type { Clock } from '../runtime/clock.js'
import { createLog, type Log, type LogLevel } from '../runtime/log.js'

/** Everything that a verb may touch of the world; tests hand in their own. */
export type Surroundings = {
  readonly out: (text: string) => void
  readonly err: (text: string) => void
  readonly clock: Clock
  /** Resolves when the program is asked to stop. */
  readonly stop: AbortSignal
  /** All of standard input, for secrets. */
  readonly readSecret: () => string
  readonly terminal: boolean
  readonly version: string
  /** Folder of the built program: page, simulators and examples are found from it. */
  readonly home: string
}

/** The words or the configuration are wrong: exit code 2. */
export class WrongWords extends Error {}
/** The work failed: exit code 1. */
export class Failed extends Error {}

/** Reads a configuration, or throws WrongWords with every finding, a line each. */
export function readConfig(path: string): DaemonSettings {
  const loaded = loadConfig(path)
  if (loaded.ok) return loaded.settings
  throw new WrongWords(loaded.errors.map(formatFinding).join('\n'))
}

/** Opens the store to write to it, and makes it where this is the first verb to need it. */
export function ownStore(settings: DaemonSettings, { clock }: Surroundings): Store {
  const { file } = settings.store
  makeStoreFolder(file)
  return openStore({ file, now: clock.now() })
}

/** An error as one line for people, with what to do about it where that is known. */
export function errorLine(error: unknown): string {
  if (error instanceof StoreError) return `${error.message}; ${error.hint}`
  return error instanceof Error ? error.message : String(error)
}

/** The one site of a configuration, or the one that is named. */
export function oneSite(settings: DaemonSettings, named: string | undefined): SiteSettings {
  const found = named === undefined ? settings.sites : settings.sites.filter((site) => site.id === named)
  const [site] = found
  if (site !== undefined && found.length === 1) return site
  const ids = settings.sites.map((one) => one.id).join(', ')
  throw new WrongWords(
    named === undefined ? `--site is needed: one of ${ids}` : `--site ${named}: found none, expected one of ${ids}`,
  )
}

/** An ISO 8601 instant or day (UTC midnight). */
export function instant(text: string, option: string): Ms {
  const at = Date.parse(text)
  if (Number.isNaN(at))
    throw new WrongWords(`${option} "${text}": expected a time such as 2026-05-01 or 2026-05-01T06:00:00Z`)
  return at
}

export function logFor(level: string): Log {
  return createLog(level as LogLevel)
}
