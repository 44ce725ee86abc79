/** Writes a simulation as a capture: NDJSON, a line a message, gzip where the name ends in .gz. */
import { once } from 'node:events'
import { createWriteStream } from 'node:fs'
import { writeFile } from 'node:fs/promises'
import type { Writable } from 'node:stream'
import { finished } from 'node:stream/promises'
import { createGzip } from 'node:zlib'
import type { Message } from './link.js'
import { type SimulateOptions, simulate } from './simulate.js'
import type { Truth } from './truth.js'

/** Lines that are joined before they are written. */
const LINES = 2_000

export type CaptureResult = { readonly messages: number; readonly truth: Truth }

/** One line of a capture: receipt time in epoch seconds, topic, payload. */
export function captureLine(message: Message): string {
  return `{"at":${(message.at / 1_000).toFixed(3)},"topic":${JSON.stringify(message.topic)},"payload":${JSON.stringify(message.payload)}}\n`
}

/**
 * Simulates and writes `file`. `onDay` is told of each simulated day as it is begun. Rejects when the file cannot be
 * written; what was written until then stays.
 */
export async function writeCapture(
  options: SimulateOptions,
  file: string,
  onDay: (day: number) => void = () => undefined,
): Promise<CaptureResult> {
  const target = createWriteStream(file)
  const gzip = file.endsWith('.gz') ? createGzip({ level: 6 }) : null
  gzip?.pipe(target)
  const out: Writable = gzip ?? target
  const failed = new Promise<never>((_, reject) => target.on('error', reject))
  const { messages, truth } = simulate(options)
  const count = await Promise.race([writeLines(messages, out, truth, onDay), failed])
  out.end()
  await Promise.race([finished(target), failed])
  return { messages: count, truth }
}

async function writeLines(
  messages: Iterable<Message>,
  out: Writable,
  truth: Truth,
  onDay: (day: number) => void,
): Promise<number> {
  let count = 0
  let lines = ''
  let day = 0
  for (const message of messages) {
    lines += captureLine(message)
    if (++count % LINES !== 0) continue
    if (!out.write(lines)) await once(out, 'drain')
    lines = ''
    if (truth.days.length === day) continue
    day = truth.days.length
    onDay(day)
  }
  out.write(lines)
  return count
}

/** Writes the truth as JSON. Unknown and endless figures are null. */
export async function writeTruth(truth: Truth, file: string): Promise<void> {
  await writeFile(file, `${JSON.stringify(truth, null, 1)}\n`)
}
