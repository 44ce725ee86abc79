/** The embedded broker: the whole line beside the broker library alone, by the same generator, in turn. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { embedded, writeSites } from './bench-sites.js'
import type { Load, Outcome } from './generator.js'
import type { LiveCounts, LiveOptions } from './live-daemon.js'
import { type Child, freePort, pause, processorSeconds, script } from './processes.js'

/** Noon in May; any will do. */
const LIVE_START = Date.UTC(2026, 4, 4, 19)

export type Sizes = { readonly connections: number; readonly window: number; readonly seconds: number }

export type Rate = {
  readonly acknowledgedPerS: number
  /** Messages whose samples had been inferred from, over all the time that it took; null: nothing infers. */
  readonly inferredPerS: number | null
  readonly fills: number
  /** Processor time of the process under test for each message, microseconds. */
  readonly processorUs: number
}

export async function generate(load: Load): Promise<Outcome> {
  const generator = script('generator.ts', [JSON.stringify(load)])
  try {
    const waitMs = load.warmUpMs + load.measureMs + 60_000
    const outcome = JSON.parse(await generator.line(waitMs)) as Outcome
    if (outcome.missing > 0) throw new Error(`${outcome.missing} messages were never acknowledged`)
    return outcome
  } finally {
    await generator.end()
  }
}

export function loadOf(port: number, sizes: Sizes, times: Load['times']): Load {
  const { connections, window, seconds } = sizes
  return { port, connections, window, warmUpMs: 1_500, measureMs: seconds * 1000, messagesMax: 5_000_000, times }
}

export function perSecond({ measured, seconds }: Outcome): number {
  return measured / seconds
}

const STEP_MS = 1_000
const LIVE = { kind: 'steps', startMs: LIVE_START, stepMs: STEP_MS } as const

export async function bareBroker(sizes: Sizes): Promise<Rate> {
  const port = await freePort()
  const broker = script('bare-broker.ts', [String(port)])
  try {
    await broker.line()
    const before = processorSeconds(broker.pid)
    const outcome = await generate(loadOf(port, sizes, LIVE))
    const processorUs = ((processorSeconds(broker.pid) - before) / outcome.acknowledged) * 1e6
    return { acknowledgedPerS: perSecond(outcome), inferredPerS: null, fills: 0, processorUs }
  } finally {
    await broker.end()
  }
}

async function inFolder<T>(work: (folder: string) => Promise<T>): Promise<T> {
  const folder = mkdtempSync(join(tmpdir(), 'sightglass-bench-'))
  try {
    return await work(folder)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** Boards that are live: the daemon's clock goes with them (live-daemon.ts). */
export function liveBoards(program: string, sizes: Sizes, flags: readonly string[] = []): Promise<Rate> {
  return inFolder(async (folder) => {
    const [port, pagePort] = [await freePort(), await freePort()]
    const { connections } = sizes
    writeSites(folder, { count: connections, broker: embedded(port), pagePort })
    const options: LiveOptions = {
      program,
      config: folder,
      startMs: LIVE_START,
      perMessageMs: STEP_MS / connections,
      latenessMs: 600_000,
    }
    const daemon = script('live-daemon.ts', [JSON.stringify(options)], flags)
    try {
      await daemon.line()
      const before = processorSeconds(daemon.pid)
      const outcome = await generate(loadOf(port, sizes, LIVE))
      const acknowledged = performance.now()
      const counts = JSON.parse(await daemon.ask()) as LiveCounts
      const samples = outcome.acknowledged * 3
      if (counts.samples !== samples || counts.refused > 0 || counts.late > 0)
        throw new Error(`found ${JSON.stringify(counts)}, expected ${samples} samples, none refused, none late`)
      const inferred = await inferredTo(daemon, counts.now - options.latenessMs - 15_000)
      const inferredPerS = outcome.acknowledged / (outcome.wholeSeconds + (performance.now() - acknowledged) / 1000)
      const processorUs = ((processorSeconds(daemon.pid) - before) / outcome.acknowledged) * 1e6
      return { acknowledgedPerS: perSecond(outcome), inferredPerS, fills: inferred.fills, processorUs }
    } finally {
      await daemon.end()
    }
  })
}

async function inferredTo(daemon: Child, target: number): Promise<LiveCounts> {
  for (let tries = 0; tries < 600; tries++) {
    const counts = JSON.parse(await daemon.ask()) as LiveCounts
    if (counts.inferredTo >= target) return counts
    await pause(100)
  }
  throw new Error('the engine has not caught up within a minute')
}
