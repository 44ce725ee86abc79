/**
 * `npm run detection`: every kind of fault × severity × seed × site, in two processes, a line a case, taken up where it
 * was left. `--only=KIND,…`, `--site=ID`, `--seeds=1,2,3,4,5`, `--write` puts the table into docs/detection.md. Exits with
 * 1 when fewer than 98 % are found in time, or one is taken for another.
 */
import { writeFileSync } from 'node:fs'
import { FAULTS } from '../../../simulators/fault-table.js'
import { SEVERITIES } from '../../../simulators/fault.js'
import { inProcesses, word } from '../in-processes.js'
import { type Case, page, sumUp } from './page.js'
import { ALL_EXPECTATIONS, forgottenKinds } from './quiet.js'
import type { CaseJob, CaseResult } from './worker.js'

const FOUND_LEAST = 0.98
const seeds = (word('seeds') ?? '1,2,3,4,5').split(',').map(Number)
const only = word('only')?.split(',')
const site = word('site')

const forgotten = forgottenKinds()
if (forgotten.length > 0) process.stderr.write(`nothing is expected of: ${forgotten.join(', ')}\n`)
const wanted = ALL_EXPECTATIONS.filter(({ kind }) => only === undefined || only.includes(kind))
const jobs: CaseJob[] = []
for (const { kind } of wanted) {
  for (const place of FAULTS[kind].sites) {
    if (site !== undefined && site !== place) continue
    for (const severity of SEVERITIES) {
      for (const seed of seeds)
        jobs.push({ key: `${place} ${kind}:${severity} seed ${seed}`, kind, site: place, severity, seed })
    }
  }
}
// A process has learned the ordinary weeks of a site, seed and month once for all faults that follow.
const monthOf = (kind: string): number => wanted.find((one) => one.kind === kind)?.month ?? 4
const order = (job: CaseJob): string => `${job.site} ${job.seed} ${monthOf(job.kind)}`
jobs.sort((a, b) => order(a).localeCompare(order(b)))

const found = await inProcesses<CaseJob, CaseResult>({
  name: 'detection',
  worker: new URL('./worker.ts', import.meta.url),
  jobs,
  processes: 2,
  said: ({ key }, one, nth) => {
    const after = one.toldAfterMs === null ? 'not told' : `${(one.toldAfterMs / 60_000).toFixed(1)} min`
    const words = one.wrong.length > 0 ? `WRONG ${one.wrong.join(', ')}` : ''
    const many = one.messages > 3 ? 'MANY' : ''
    const how = one.inTime && words === '' ? 'ok  ' : 'MISS'
    process.stderr.write(
      `${nth}/${jobs.length} ${how} ${key}: ${one.from === null ? 'nothing to find' : after}; ${one.messages} messages ${many} ${words}\n`,
    )
  },
})
const cases = jobs.flatMap((job): Case[] => {
  const result = found.get(job.key)
  const expectation = wanted.find((one) => one.kind === job.kind)
  return result === undefined || expectation === undefined ? [] : [{ ...job, ...result, expectation }]
})
const sum = sumUp(cases)
process.stderr.write(
  `${sum.found} of ${sum.came} found in time, ${sum.wrong} with a wrong diagnosis, ${sum.many} with more than 3 messages; ${sum.loud} of ${sum.quiet} quiet ones told\n`,
)
if (process.argv.includes('--write')) {
  writeFileSync(new URL('../../../docs/detection.md', import.meta.url), page(wanted, cases, seeds.length))
}
process.exitCode = sum.found < FOUND_LEAST * sum.came || sum.wrong > 0 || forgotten.length > 0 ? 1 : 0
