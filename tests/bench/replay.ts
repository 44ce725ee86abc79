/** `replay` on a month of the example site, as the simulator makes it. */
import { execFile } from 'node:child_process'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { promisify } from 'node:util'
import { writeCapture } from '../../simulators/capture.js'

const run = promisify(execFile)
const CONFIG = fileURLToPath(new URL('../../config/juniper.yaml', import.meta.url))
const START = Date.UTC(2026, 4, 4, 7)

export async function makeCapture(file: string, days: number): Promise<void> {
  await writeCapture({ site: 'juniper', seed: 1, startMs: START, days }, file)
}

/** Samples a second that the built program says, from the first line of the capture to the last thing inferred. */
export async function replayRate(program: string, capture: string, out: string): Promise<number> {
  const words = ['replay', '--config', CONFIG, '--in', capture, '--out', out, '--json']
  const { stdout } = await run(process.execPath, [join(program, 'main.js'), ...words], { timeout: 120_000 })
  const said = JSON.parse(stdout) as { samples_per_second: number; sites: { fills: number }[] }
  if (!said.sites.some((site) => site.fills > 0)) throw new Error('found no fills in a month, expected some')
  return said.samples_per_second
}
