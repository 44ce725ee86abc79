/** The child processes of the bench: started, waited for, asked, and ended, each by itself. */
import { type ChildProcess, spawn } from 'node:child_process'
import { readFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'

const START_MAX_MS = 30_000
const END_MAX_MS = 10_000

export class Child {
  readonly process: ChildProcess
  readonly #lines: string[] = []
  #wake: () => void = () => {}
  #exit: number | null = null

  constructor(command: string, words: readonly string[], folder?: string) {
    this.process = spawn(command, words, {
      stdio: ['pipe', 'pipe', 'inherit'],
      ...(folder === undefined ? {} : { cwd: folder }),
    })
    const { stdout } = this.process
    if (stdout !== null)
      createInterface({ input: stdout }).on('line', (line) => {
        this.#lines.push(line)
        this.#wake()
      })
    this.process.on('exit', (code) => {
      this.#exit = code ?? -1
      this.#wake()
    })
  }

  /** The next line that it writes. */
  async line(maxMs: number = START_MAX_MS): Promise<string> {
    const until = performance.now() + maxMs
    for (;;) {
      const line = this.#lines.shift()
      if (line !== undefined) return line
      if (this.#exit !== null) throw new Error(`${this.process.spawnargs.join(' ')}: ended with ${this.#exit}`)
      const left = until - performance.now()
      if (left <= 0) throw new Error(`${this.process.spawnargs.join(' ')}: said nothing for ${maxMs} ms`)
      await new Promise<void>((done) => {
        const timer = setTimeout(done, left)
        this.#wake = () => {
          clearTimeout(timer)
          done()
        }
      })
    }
  }

  async ask(): Promise<string> {
    this.process.stdin?.write('\n')
    return await this.line()
  }

  /** Closes its input, or sends it SIGTERM, and waits until it is gone. */
  async end(how: 'input' | 'signal' = 'input'): Promise<void> {
    this.process.stdin?.end()
    if (how === 'signal') this.process.kill('SIGTERM')
    const until = performance.now() + END_MAX_MS
    while (this.#exit === null && performance.now() < until) await pause(20)
    if (this.#exit === null) this.process.kill('SIGKILL')
  }

  get pid(): number {
    return this.process.pid ?? 0
  }
}

/** A TypeScript file of this folder as a process. */
export function script(name: string, words: readonly string[], flags: readonly string[] = []): Child {
  const file = fileURLToPath(new URL(name, import.meta.url))
  return new Child(process.execPath, [...flags, '--import', 'tsx', file, ...words])
}

export function pause(ms: number): Promise<void> {
  return new Promise((done) => setTimeout(done, ms))
}

export function freePort(): Promise<number> {
  return new Promise((done, fail) => {
    const server = createServer()
    server.once('error', fail)
    server.listen(0, '127.0.0.1', () => {
      const address = server.address()
      const port = typeof address === 'object' && address !== null ? address.port : 0
      server.close(() => done(port))
    })
  })
}

/** Resident memory of a process in MiB, by proc(5). */
export function residentMiB(pid: number): number {
  const found = /^VmRSS:\s+(\d+) kB$/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))
  return Number(found?.[1] ?? Number.NaN) / 1024
}

/** Processor time that a process has used, in seconds, by proc(5): utime and stime, in hundredths (USER_HZ). */
export function processorSeconds(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8')
    .replace(/^.*\) /, '')
    .split(' ')
  return (Number(fields[11]) + Number(fields[12])) / 100
}
