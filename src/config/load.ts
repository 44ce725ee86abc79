/** Loading a configuration: one file, or a folder with `daemon.yaml` and a file for each site. */
import { readdirSync, readFileSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { LIMITS } from '../model/limits.js'
import type { DaemonSettings, SiteSettings, TellSettings } from '../model/settings.js'
import { buildDaemon, type DaemonDraft } from './build-daemon.js'
import { buildSite, type SiteDraft } from './build-site.js'
import { buildTell, TELL_NOBODY } from './build-tell.js'
import { checkDaemon, checkSites, type LoadedSite, plainUrl } from './checks-daemon.js'
import { checkSite } from './checks-site.js'
import { type ConfigDocument, parseDocument } from './document.js'
import { createFileReader, reason } from './files.js'
import type { Finding, Issue } from './finding.js'
import { DAEMON_SECTIONS, type DaemonSections, SITE_SECTIONS, type SiteSections } from './schema.js'
import { tellSchema } from './schema-tell.js'
import { readSections, type SectionResult } from './sections.js'

export type Loaded =
  | { readonly ok: true; readonly settings: DaemonSettings; readonly warnings: readonly Finding[] }
  | { readonly ok: false; readonly errors: readonly Finding[]; readonly warnings: readonly Finding[] }

/**
 * Reads a configuration and checks it whole: every error is found, not just the first.
 *
 * @param path a YAML or JSON file (one site), or a folder (`daemon.yaml` and a file for each site)
 * @returns settings in SI and what is legal but unwise, or every error. Nothing is thrown for what a person wrote.
 */
export function loadConfig(path: string): Loaded {
  const load = new Load()
  try {
    if (statSync(path).isDirectory()) load.folder(path)
    else load.single(path)
  } catch (cause) {
    load.errors.push(whole(path, `cannot be read: ${reason(cause)}`, 'a configuration file or a folder of them'))
  }
  return load.result(path)
}

function whole(file: string, message: string, expected: string | null = null): Finding {
  return { file, line: 0, column: 0, path: '', message, found: null, expected, hint: null }
}

const DAEMON_FILE = 'daemon.yaml'
const IS_DAEMON_FILE = /^daemon\.(?:ya?ml|json)$/
const IS_CONFIG_FILE = /^[^.].*\.(?:ya?ml|json)$/

class Load {
  readonly errors: Finding[] = []
  readonly warnings: Finding[] = []
  readonly #sites: LoadedSite[] = []
  #daemon: DaemonDraft = {}

  /** One file with everything. */
  single(file: string): void {
    const document = this.#open(file)
    if (document === null) return
    const read = readSections(document, { ...SITE_SECTIONS, ...DAEMON_SECTIONS })
    this.#report(document, read.issues)
    this.#takeDaemon(document, read.sections)
    this.#takeSite(document, read, TELL_NOBODY)
  }

  /** `daemon.yaml` and a file for each site. */
  folder(folder: string): void {
    const names = readdirSync(folder).filter((name) => IS_CONFIG_FILE.test(name) && !name.endsWith('.schema.json'))
    const siteNames = names.filter((name) => !IS_DAEMON_FILE.test(name)).toSorted()
    const [daemonName, another] = names.filter((name) => IS_DAEMON_FILE.test(name))
    if (another !== undefined) {
      this.errors.push(whole(join(folder, another), 'is a second file of the daemon', `${daemonName} alone`))
    }
    let tell: TellSettings | undefined = TELL_NOBODY
    if (daemonName !== undefined) tell = this.#daemonFile(join(folder, daemonName))
    else this.#takeDaemonDefaults(join(folder, DAEMON_FILE))
    if (siteNames.length === 0) {
      this.errors.push(whole(folder, 'the folder holds no site', `a file for each site beside ${DAEMON_FILE}`))
    }
    if (siteNames.length > LIMITS.configFilesMax) {
      this.errors.push(whole(folder, `the folder holds ${siteNames.length} files`, `at most ${LIMITS.configFilesMax}`))
      return
    }
    for (const name of siteNames) this.#siteFile(join(folder, name), tell)
  }

  result(path: string): Loaded {
    checkSites(this.#sites)
    const { store, broker, page, accounts, uplink, beat } = this.#daemon
    if (this.errors.length > 0) return { ok: false, errors: inOrder(this.errors), warnings: inOrder(this.warnings) }
    if (!store || !broker || !page || !accounts || uplink === undefined || beat === undefined) {
      return { ok: false, errors: [whole(path, 'the configuration is incomplete')], warnings: [] }
    }
    const sites = this.#sites.map((loaded) => loaded.site)
    const settings = { store, broker, page, accounts, uplink, beat, sites }
    return { ok: true, settings, warnings: inOrder(this.warnings) }
  }

  #daemonFile(file: string): TellSettings | undefined {
    const document = this.#open(file)
    if (document === null) return undefined
    const elsewhere = home(Object.keys(SITE_SECTIONS), "the site's own file")
    const read = readSections(document, { ...DAEMON_SECTIONS, tell: tellSchema.optional() }, elsewhere)
    this.#report(document, read.issues)
    this.#takeDaemon(document, read.sections)
    return this.#takeTell(document, read.sections, TELL_NOBODY)
  }

  #siteFile(file: string, tell: TellSettings | undefined): void {
    const document = this.#open(file)
    if (document === null) return
    const read = readSections(document, SITE_SECTIONS, home(Object.keys(DAEMON_SECTIONS), DAEMON_FILE))
    this.#report(document, read.issues)
    this.#takeSite(document, read, tell)
  }

  #open(file: string): ConfigDocument | null {
    const text = this.#text(file)
    if (text === null) return null
    const parsed = parseDocument(file, text)
    if ('errors' in parsed) {
      this.errors.push(...parsed.errors)
      return null
    }
    this.#report(parsed.document, parsed.issues)
    return parsed.document
  }

  #text(file: string): string | null {
    try {
      const { size } = statSync(file)
      if (size > LIMITS.configBytesMax) {
        this.errors.push(whole(file, `the file has ${size} bytes`, `at most ${LIMITS.configBytesMax}`))
        return null
      }
      return new TextDecoder('utf-8', { fatal: true }).decode(readFileSync(file))
    } catch (cause) {
      const why = cause instanceof TypeError ? 'it is not UTF-8 text' : reason(cause)
      this.errors.push(whole(file, `the file cannot be read: ${why}`))
      return null
    }
  }

  #takeDaemonDefaults(file: string): void {
    const read = readSections({ file, tree: {}, place: () => whole(file, '') }, DAEMON_SECTIONS)
    this.#daemon = buildDaemon(daemonSections(read.sections), createFileReader(file))
  }

  #takeDaemon(document: ConfigDocument, sections: Record<string, unknown>): void {
    const files = createFileReader(document.file)
    this.#daemon = buildDaemon(daemonSections(sections), files)
    this.#report(document, files.issues)
    this.#report(document, checkDaemon(this.#daemon))
  }

  /** The file's own `tell`, else the one that holds for all; undefined where it could not be read. */
  #takeTell(
    document: ConfigDocument,
    sections: Record<string, unknown>,
    otherwise: TellSettings | undefined,
  ): TellSettings | undefined {
    if (!('tell' in sections)) return undefined
    const { tell } = siteSections(sections)
    if (tell === undefined) return otherwise
    const files = createFileReader(document.file)
    const built = buildTell(tell, files)
    this.#report(document, [...files.issues, ...built.issues])
    for (const way of built.tell.ways) {
      if (way.kind === 'webhook') this.#report(document, plainUrl(way.url, ['tell', 'ways', way.id, 'url']))
    }
    return built.tell
  }

  #takeSite(document: ConfigDocument, read: SectionResult, otherwise: TellSettings | undefined): void {
    const { sections, partial } = read
    const tell = this.#takeTell(document, sections, otherwise)
    const built = buildSite(siteSections(sections), tell)
    this.#report(document, built.issues)
    const checks = checkSite(built.draft)
    this.#report(document, partial ? checks.filter((issue) => issue.severity === 'error') : checks)
    const site = finished(built.draft)
    if (site !== null) this.#sites.push({ site, report: (issue) => this.#report(document, [issue]) })
  }

  #report(document: ConfigDocument, issues: readonly Issue[]): void {
    for (const issue of issues) {
      const list = issue.severity === 'error' ? this.errors : this.warnings
      list.push(document.place(issue))
    }
  }
}

/** The checked border: `readSections` filled each name with the output of the schema of that name. */
function siteSections(sections: Record<string, unknown>): SiteSections {
  return sections as SiteSections
}

function daemonSections(sections: Record<string, unknown>): DaemonSections {
  return sections as DaemonSections
}

function home(names: readonly string[], where: string): Record<string, string> {
  return Object.fromEntries(names.map((name) => [name, where]))
}

/** The site, when every part of it could be read. */
function finished(draft: SiteDraft): SiteSettings | null {
  const { id, name, timezone, latitudeDeg, longitudeDeg, elevationM, units, boards, tank } = draft
  const { well, pump, battery, array, lines, water, away, season, upkeep, alarms, tell } = draft
  if (id === undefined || name === undefined || timezone === undefined || elevationM === undefined) return null
  if (latitudeDeg === undefined || longitudeDeg === undefined || !units || !boards || tank === undefined) return null
  if (!well || !pump || battery === undefined || array === undefined || !lines || !water) return null
  if (!away || !season || !upkeep || !alarms || !tell) return null
  const place = { id, name, timezone, latitudeDeg, longitudeDeg, elevationM, units }
  return { ...place, boards, tank, well, pump, battery, array, lines, water, away, season, upkeep, alarms, tell }
}

function inOrder(findings: readonly Finding[]): Finding[] {
  return findings.toSorted(
    (a, b) => (a.file < b.file ? -1 : a.file > b.file ? 1 : 0) || a.line - b.line || a.column - b.column,
  )
}
