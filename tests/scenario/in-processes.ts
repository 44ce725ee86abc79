/**
 * Work that takes minutes, in a few processes, a line each as it is done, and taken up where it was left: results are
 * kept in `.tmp/` under a hash of the program and of the tests, so that nothing of another program is ever reused.
 */
import { fork } from 'node:child_process'
import { createHash } from 'node:crypto'
import { appendFileSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

const ROOT = fileURLToPath(new URL('../..', import.meta.url))
const SUBJECT = ['src', 'simulators', 'config', 'tests/scenario', 'package-lock.json']

export type Job = { readonly key: string }

export type InProcesses<J extends Job, R> = {
  /** File name under `.tmp/`, without its end. */
  readonly name: string
  /** The program that answers each job that it is sent with `{ key, result }`: see `answerJobs`. */
  readonly worker: URL
  readonly jobs: readonly J[]
  readonly processes: number
  readonly said: (job: J, result: R, nth: number) => void
}

/** Results by key, for all jobs. Rejects when a worker fails. */
export async function inProcesses<J extends Job, R>(work: InProcesses<J, R>): Promise<ReadonlyMap<string, R>> {
  const file = join(ROOT, '.tmp', `${work.name}-${subjectHash()}.ndjson`)
  const done = readDone<R>(file)
  const open = work.jobs.filter(({ key }) => !done.has(key))
  const results = new Map(work.jobs.flatMap(({ key }) => (done.has(key) ? [[key, done.get(key) as R] as const] : [])))
  mkdirSync(dirname(file), { recursive: true })
  let nth = results.size
  const take = (job: J, result: R): void => {
    appendFileSync(file, `${JSON.stringify({ key: job.key, result })}\n`)
    results.set(job.key, result)
    nth += 1
    work.said(job, result, nth)
  }
  const workers = Array.from({ length: Math.min(work.processes, open.length) }, () => workThrough(work, open, take))
  await Promise.all(workers)
  return results
}

/** One process, which is given the next open job whenever it has answered. */
function workThrough<J extends Job, R>(
  { worker }: InProcesses<J, R>,
  open: J[],
  take: (job: J, result: R) => void,
): Promise<void> {
  return new Promise((resolve, reject) => {
    const child = fork(worker, { execArgv: ['--import', 'tsx'] })
    let job = open.shift()
    if (job === undefined) child.disconnect()
    else child.send(job)
    child.on('message', (message) => {
      if (job !== undefined) take(job, (message as { result: R }).result)
      job = open.shift()
      if (job === undefined) child.disconnect()
      else child.send(job)
    })
    child.on('error', reject)
    child.on('exit', (code, signal) => {
      if (code === 0 && job === undefined) resolve()
      else reject(new Error(`the process for ${job?.key ?? 'nothing'} ended with ${code ?? signal}`))
    })
  })
}

/** The other side: answers every job that the parent sends, one at a time. */
export function answerJobs<J extends Job, R>(answer: (job: J) => Promise<R>): void {
  process.on('message', (job) => {
    answer(job as J).then(
      (result) => process.send?.({ result }),
      (error: unknown) => {
        process.stderr.write(`${error instanceof Error ? error.stack : String(error)}\n`)
        process.exit(1)
      },
    )
  })
}

function readDone<R>(file: string): ReadonlyMap<string, R> {
  if (!existsSync(file)) return new Map()
  const lines = readFileSync(file, 'utf8').split('\n')
  // The last line has no end where it was cut off in the middle.
  return new Map(
    lines.slice(0, -1).map((line) => {
      const { key, result } = JSON.parse(line) as { key: string; result: R }
      return [key, result] as const
    }),
  )
}

function subjectHash(): string {
  const sum = createHash('sha256')
  const take = (path: string): void => {
    const full = join(ROOT, path)
    if (statSync(full).isDirectory()) for (const name of readdirSync(full).sort()) take(join(path, name))
    else sum.update(path).update(readFileSync(full))
  }
  for (const path of SUBJECT) take(path)
  return sum.digest('hex').slice(0, 12)
}

/** The value of `--name=value` among the words of the program; undefined: not given. */
export function word(name: string): string | undefined {
  return process.argv.find((one) => one.startsWith(`--${name}=`))?.slice(name.length + 3)
}
