/** What `run` holds in memory when it has started and nothing happens: the example site, its page and broker open. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { until } from './backlog.js'
import { Child, freePort, pause, residentMiB } from './processes.js'

const CONFIG = fileURLToPath(new URL('../../config/juniper.yaml', import.meta.url))

/** Resident MiB of `run` with `config/juniper.yaml` on free ports, `settleMs` after its page answers. */
export async function idleMemory(program: string, settleMs: number): Promise<number> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-bench-'))
  const [broker, page] = [await freePort(), await freePort()]
  const text = readFileSync(CONFIG, 'utf8')
    .replace('port: 1883', `port: ${broker}`)
    .replace('port: 8180', `port: ${page}`)
    .replace('file: ../data/juniper.db', 'file: juniper.db')
  const config = join(folder, 'juniper.yaml')
  writeFileSync(config, text)
  const child = new Child(process.execPath, [
    join(program, 'main.js'),
    'run',
    '--config',
    config,
    '--log-level',
    'error',
  ])
  try {
    await until(30_000, async () => (await fetch(`http://127.0.0.1:${page}/health`).catch(() => null))?.ok === true)
    await pause(settleMs)
    return residentMiB(child.pid)
  } finally {
    await child.end('signal')
    rmSync(folder, { recursive: true, force: true })
  }
}
