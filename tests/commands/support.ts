/** Verbs as functions: words in, exit code and both outputs back, in a folder of the test's own. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { onTestFinished } from 'vitest'
import { writeCapture } from '../../simulators/capture.js'
import { parseFault } from '../../simulators/fault.js'
import type { Surroundings } from '../../src/commands/words.js'
import { main } from '../../src/main.js'
import type { Ms } from '../../src/model/time.js'

export type Said = { readonly code: number; readonly out: string; readonly err: string }
export type WorldChanges = Partial<Pick<Surroundings, 'readSecret' | 'terminal' | 'stop'>>

/** Midnight of a Monday in May at Juniper Bench (UTC-7): three ordinary days follow. */
export const MONDAY: Ms = Date.UTC(2026, 4, 4, 7)
/** The clock of the verbs: some days after what is simulated. */
const LATER: Ms = Date.UTC(2026, 4, 20)

export async function verb(words: readonly string[], changes: WorldChanges = {}): Promise<Said> {
  let out = ''
  let err = ''
  let ticks = 0
  const code = await main(words, {
    out: (text) => {
      out += text
    },
    err: (text) => {
      err += text
    },
    clock: {
      now: () => LATER,
      monotonic: () => {
        ticks += 1
        return ticks
      },
      chance: () => 0.5,
      after: () => () => {},
    },
    stop: new AbortController().signal,
    readSecret: () => '',
    terminal: false,
    version: '0.0.0',
    home: '',
    ...changes,
  })
  return { code, out, err }
}

/** Lines of a text, without the empty one after the last line feed. */
export function lines(text: string): readonly string[] {
  return text.split('\n').filter((line) => line !== '')
}

/** A folder for one test (or one file of tests, with `keep`). */
export function folder(): string {
  const path = mkdtempSync(join(tmpdir(), 'sightglass-verbs-'))
  onTestFinished(() => rmSync(path, { recursive: true, force: true }))
  return path
}

/** Days of Juniper Bench as a capture; eight people want several fills in two days. */
export async function capture(file: string, days: number, faults: readonly string[], people = 8): Promise<void> {
  await writeCapture(
    {
      site: 'juniper',
      seed: 1,
      startMs: MONDAY,
      days,
      people,
      faults: faults.map((words) => parseFault(words, MONDAY)),
    },
    file,
  )
}
