/** Boards that empty their memories into `run` itself: every sample is days old, and all days are derived again. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { embedded, external, writeSites } from './bench-sites.js'
import { generate, loadOf, perSecond, type Rate, type Sizes } from './embedded.js'
import { Child, freePort, pause, processorSeconds } from './processes.js'

const DAY_MS = 86_400_000
const BEGAN_DAYS_AGO = 20
const STEP_MS = 2_000
/** Well under the time that a flood is waited for at most. */
const DERIVE_MAX_MS = 180_000

export type Running = { readonly child: Child; readonly page: string; readonly folder: string }

/** Starts `run` on `sites` bench sites; `broker` is the embedded one's port, or an outside one's. */
export async function startRun(
  program: string,
  { sites, embeddedPort, externalPort }: { sites: number; embeddedPort?: number; externalPort?: number },
): Promise<Running> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-bench-'))
  const pagePort = await freePort()
  const broker = embeddedPort === undefined ? external(externalPort ?? 0) : embedded(embeddedPort)
  writeSites(folder, { count: sites, broker, pagePort })
  const words = [join(program, 'main.js'), 'run', '--config', folder, '--log-level', 'error']
  const running = { child: new Child(process.execPath, words), page: `http://127.0.0.1:${pagePort}`, folder }
  try {
    await until(30_000, async () => (await metrics(running)) !== null)
    return running
  } catch (error) {
    await stopRun(running)
    throw error
  }
}

export async function stopRun({ child, folder }: Running): Promise<void> {
  await child.end('signal')
  rmSync(folder, { recursive: true, force: true })
}

/** Metrics by name, without labels; null while nothing answers. */
export async function metrics({ page }: Running): Promise<ReadonlyMap<string, number> | null> {
  const answer = await fetch(`${page}/metrics`, { signal: AbortSignal.timeout(20_000) }).catch(() => null)
  if (answer === null || !answer.ok) return null
  const lines = (await answer.text()).split('\n').filter((line) => !line.startsWith('#'))
  return new Map(lines.map((line) => [line.split(' ')[0] ?? '', Number(line.split(' ')[1])]))
}

export async function metric(running: Running, name: string): Promise<number> {
  const found = (await metrics(running))?.get(name)
  if (found === undefined) throw new Error(`/metrics: found no ${name}`)
  return found
}

export async function until(maxMs: number, holds: () => Promise<boolean>): Promise<void> {
  const end = performance.now() + maxMs
  while (!(await holds())) {
    if (performance.now() > end) throw new Error(`not so within ${maxMs} ms`)
    await pause(100)
  }
}

/** A rate with the processor time that deriving took after the flood, seconds, and the wait for it, seconds. */
export type BacklogRate = Rate & { readonly deriveProcessorS: number; readonly allDerivedS: number }

export async function backlog(program: string, sizes: Sizes): Promise<BacklogRate> {
  const embeddedPort = await freePort()
  const running = await startRun(program, { sites: sizes.connections, embeddedPort })
  const { pid } = running.child
  try {
    const startMs = Date.now() - BEGAN_DAYS_AGO * DAY_MS
    const before = processorSeconds(pid)
    const outcome = await generate(loadOf(embeddedPort, sizes, { kind: 'steps', startMs, stepMs: STEP_MS }))
    const acknowledged = performance.now()
    const during = processorSeconds(pid) - before
    const samples = await metric(running, 'sightglass_samples_total')
    if (samples !== outcome.acknowledged * 3)
      throw new Error(
        `found ${samples} samples (${await metric(running, 'sightglass_messages_total')} messages, ${await metric(running, 'sightglass_records_refused_total')} records refused), expected ${outcome.acknowledged * 3}`,
      )
    await until(DERIVE_MAX_MS, async () => (await metric(running, 'sightglass_sites_going_back')) === 0)
    const allDerivedS = (performance.now() - acknowledged) / 1000
    const deriveProcessorS = processorSeconds(pid) - before - during
    return {
      acknowledgedPerS: perSecond(outcome),
      inferredPerS: outcome.acknowledged / (outcome.wholeSeconds + deriveProcessorS),
      fills: await fills(running, startMs),
      processorUs: (during / outcome.acknowledged) * 1e6,
      deriveProcessorS,
      allDerivedS,
    }
  } finally {
    await stopRun(running)
  }
}

/** Fills that the API tells of the first site since then: none would mean that nothing was derived. */
async function fills({ page }: Running, fromMs: number): Promise<number> {
  const from = new Date(fromMs).toISOString()
  const to = new Date().toISOString()
  const answer = await fetch(`${page}/api/cycles?site=bench-0&from=${from}&to=${to}`)
  if (!answer.ok) throw new Error(`/api/cycles: ${answer.status} ${await answer.text()}`)
  const found = (await answer.json()) as { readonly cycles?: readonly unknown[] } | readonly unknown[]
  return Array.isArray(found) ? found.length : ((found as { cycles?: readonly unknown[] }).cycles?.length ?? 0)
}
