/** The past of a live site, told to the program that started it: a capture on file, then a word over the channel. */
import { closeSync, openSync, writeSync } from 'node:fs'
import { DAY, type Ms } from '../src/model/time.js'
import { captureLine } from './capture.js'
import type { Past } from './live.js'

const LINES = 2_000

/**
 * Writes the first `days` days as a capture to `file`, says `ready` to the parent process, and waits for its answer:
 * the wall time at which the site's time goes on. Throws where there is no parent to ask.
 */
export function pastOnFile(file: string, startMs: Ms, days: number): Past {
  if (process.send === undefined) throw new Error('--past-file: found no channel to the program that started this one')
  const descriptor = openSync(file, 'w')
  let lines = ''
  let count = 0
  return {
    untilMs: startMs + Math.round(days * DAY),
    take(message) {
      lines += captureLine(message)
      if (++count % LINES !== 0) return
      writeSync(descriptor, lines)
      lines = ''
    },
    async ready() {
      writeSync(descriptor, lines)
      closeSync(descriptor)
      const answer = new Promise<Ms>((resolve) => process.once('message', (at) => resolve(Number(at))))
      process.send?.('ready')
      return answer
    },
  }
}
