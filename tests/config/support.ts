/** Configurations written to a folder of their own under the system's temporary folder. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { afterAll } from 'vitest'
import { type Finding, formatFinding, type Loaded, loadConfig } from '../../src/config/index.js'
import type { DaemonSettings, SiteSettings } from '../../src/model/settings.js'

const folders: string[] = []

afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true })
})

/** A new folder with these files; their names may have folders in them. */
export function folderOf(files: Readonly<Record<string, string | Uint8Array>>): string {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-config-'))
  folders.push(folder)
  for (const [name, content] of Object.entries(files)) {
    const full = join(folder, name)
    mkdirSync(dirname(full), { recursive: true })
    writeFileSync(full, content, { mode: 0o600 })
  }
  return folder
}

/** Loads one file with this text. */
export function load(text: string | Uint8Array): Loaded {
  return loadConfig(join(folderOf({ 'site.yaml': text }), 'site.yaml'))
}

export function settingsOf(loaded: Loaded): DaemonSettings {
  if (loaded.ok) return loaded.settings
  throw new Error(loaded.errors.map(formatFinding).join('\n'))
}

export function siteOf(loaded: Loaded): SiteSettings {
  const site = settingsOf(loaded).sites[0]
  if (site === undefined) throw new Error('no site')
  return site
}

export function errorsOf(loaded: Loaded): readonly Finding[] {
  return loaded.ok ? [] : loaded.errors
}

export const at = (finding: Finding): string => `${finding.line}:${finding.column} ${finding.path}`

/** A small site without fault or warning; `more` is put after it. */
export function quiet(more = ''): string {
  return `site: { id: x, timezone: UTC }
boards:
  b:
    signals: { tank-level: , pump-current: , battery-voltage: }
tank:
  shape: { box: { length: "1 m", width: "1 m", height: "2 m" } }
  low_mark: "1 m"
  high_mark: "1.2 m"
  reserve: "300 l"
battery: { chemistry: agm, nominal_voltage: "12 V" }
tell:
  people: [{ name: p, ways: [w] }]
  ways: { w: { kind: mqtt, topic: told } }
${more}`
}
