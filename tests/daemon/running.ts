/** The whole daemon in the test's own process: from a configuration file, on any clock, with its log kept. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { onTestFinished } from 'vitest'
import { loadConfig } from '../../src/config/index.js'
import { type Daemon, startDaemon } from '../../src/daemon/daemon.js'
import type { Clock } from '../../src/runtime/clock.js'
import { systemClock } from '../../src/runtime/clock.js'
import type { Log } from '../../src/runtime/log.js'
import { type Tree, writeConfig } from '../support/example-config.js'
import { freePort } from '../support/free-port.js'

export type Said = { readonly level: string; readonly words: string; readonly fields: string }

export type Running = {
  readonly daemon: Daemon
  /** `http://127.0.0.1:PORT/` */
  readonly page: string
  readonly port: number
  readonly log: readonly Said[]
  readonly folder: string
}

/** A folder of the test's own, removed with it. */
export function testFolder(): string {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-daemon-'))
  onTestFinished(() => rmSync(path, { recursive: true, force: true }))
  return path
}

/** Every word of the log, unlike the program's own with nothing left out. */
export function keptLog(): { log: Log; said: Said[] } {
  const said: Said[] = []
  const at =
    (level: string) =>
    (fields: object, words: string): void => {
      said.push({ level, words, fields: JSON.stringify(fields) })
    }
  return { said, log: { debug: at('debug'), info: at('info'), warn: at('warn'), error: at('error') } }
}

export type RunOptions = {
  readonly clock?: Clock
  readonly pageDir?: string | null
  readonly folder?: string
  /** Files beside the configuration, for secrets. */
  readonly files?: Readonly<Record<string, string>>
  readonly broker?: Tree
}

/** Starts a daemon on free loopback ports; stopped with the test. */
export async function runDaemon(tree: Tree, options: RunOptions = {}): Promise<Running> {
  const { clock = systemClock, pageDir = null, folder = testFolder(), files = {}, broker } = options
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true })
    writeFileSync(join(folder, name), `${text}\n`, { mode: 0o600 })
  }
  const port = await freePort()
  const page = { host: '127.0.0.1', port: await freePort() }
  const config = writeConfig(folder, 'site.yaml', {
    store: { file: 'water.db' },
    broker: broker ?? { embedded: { host: '127.0.0.1', port, anonymous: true } },
    ...tree,
    page: { ...page, ...(tree.page as Tree | undefined) },
  })
  const loaded = loadConfig(config)
  if (!loaded.ok) throw new Error(JSON.stringify(loaded.errors))
  const { log, said } = keptLog()
  const { settings } = loaded
  const daemon = await startDaemon({ settings, clock, log, version: '0.0.0', pageDir })
  onTestFinished(() => daemon.stop())
  const listening = settings.broker.kind === 'embedded' ? settings.broker.port : port
  return { daemon, page: daemon.pageAddress, port: listening, log: said, folder }
}
