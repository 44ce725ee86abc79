/**
 * `npm run site-years`: ten places live a year (`--days=N`) without a fault; what was told of each, and whether it was
 * true. `--only=PLACE,…`, `--seeds=1,…`, `--write` puts it into docs/site-years.md. Exits with 1 beyond the budget.
 */
import { writeFileSync } from 'node:fs'
import { PRIORITIES } from '../../../src/model/alarm.js'
import { inProcesses, word } from '../in-processes.js'
import { PLACES } from './places.js'
import { falseTold, FIRST_DAYS, type PlaceYear, type ToldOf } from './run-place.js'
import type { PlaceJob } from './worker.js'

const BUDGET = { medium: 1, critical: 0 } as const
const YEAR = 365
const seeds = (word('seeds') ?? '1').split(',').map(Number)
const days = Number(word('days') ?? YEAR)
const only = word('only')?.split(',')
const places = PLACES.filter(({ id }) => only === undefined || only.includes(id))
const jobs = places.flatMap(({ id: place }) =>
  seeds.map((seed): PlaceJob => ({ key: `${place} ${seed} ${days}`, place, seed, days })),
)
const found = await inProcesses<PlaceJob, PlaceYear>({
  name: 'site-years',
  worker: new URL('./worker.ts', import.meta.url),
  jobs,
  processes: 2,
  said: (job, year, nth) => {
    const lines = [`${nth} of ${jobs.length}: ${job.key}: ${summary(year)}`, ...falseTold(year, 'low').map(line)]
    process.stderr.write(`${lines.join('\n')}\n`)
  },
})
const years = jobs.flatMap(({ key }) => found.get(key) ?? [])
const over = years.filter(isOver)
process.stderr.write(`${over.length} of ${years.length} places beyond the budget\n`)
if (process.argv.includes('--write')) writeFileSync(new URL('../../../docs/site-years.md', import.meta.url), page())
process.exitCode = over.length > 0 ? 1 : 0

/** A shorter run has the same budget: there is no half message. */
function isOver(year: PlaceYear): boolean {
  return falseTold(year, 'medium').length > BUDGET.medium || falseTold(year, 'critical').length > BUDGET.critical
}

function summary(year: PlaceYear): string {
  const counts = PRIORITIES.map((priority) => `${countFalse(year, priority)} ${priority}`).join(', ')
  return `${year.days} d, ${year.samples} samples, ${year.fills} fills in ${year.seconds.toFixed(0)} s; false: ${counts}`
}

function countFalse(year: PlaceYear, priority: ToldOf['priority']): number {
  return falseTold(year, priority).filter((one) => one.priority === priority).length
}

function line(one: ToldOf): string {
  return `     FALSE ${one.at} ${one.priority} ${one.alarm} ${one.subject} (${one.cause}) ${one.what}`
}

/** "freezing 31, site-silent 2", the most first. */
function byAlarm(told: readonly ToldOf[]): string {
  const counts = new Map<string, number>()
  for (const { alarm } of told) counts.set(alarm, (counts.get(alarm) ?? 0) + 1)
  const parts = [...counts].sort((a, b) => b[1] - a[1] || a[0].localeCompare(b[0])).map(([id, n]) => `${id} ${n}`)
  return parts.length === 0 ? 'none' : parts.join(', ')
}

function row(year: PlaceYear): string {
  const words = PLACES.find(({ id }) => id === year.place)?.words ?? ''
  const site = PLACES.find(({ id }) => id === year.place)?.site ?? ''
  const later = year.told.filter((one) => !one.firstWeek)
  const counts = PRIORITIES.map((priority) => countFalse(year, priority))
  const cells = [
    year.place,
    `${words} (${site}, from ${year.start.slice(0, 7)})`,
    year.fills,
    `${(year.samples / 1e6).toFixed(1)} M`,
    ...counts,
    byAlarm(falseTold(year, 'low')),
    byAlarm(later.filter((one) => one.trueBecause !== null)),
    byAlarm(year.told.filter((one) => one.firstWeek && one.trueBecause === null)),
    Math.round(year.seconds),
  ]
  return `| ${cells.join(' | ')} |`
}

function page(): string {
  const needless = years.reduce((sum, year) => sum + falseTold(year, 'medium').length, 0)
  return `# What ordinary years are told

Made by \`npm run site-years -- --write\`: ten invented places live ${days === YEAR ? 'a year' : `${days} days`} each without any fault, second by second, through
the whole line: boards, link, decoding, store, inference, alarms. They have guests, empty weeks, storms, frost, both changes of summer
time, poor links and poor sensors. Each message is held against what really happened in the simulation: it is true when the thing that it
tells of was so (the line was at 0 °C, the tank below its reserve, the link down for longer than ever), and false otherwise. Reminders and
all-clears belong to the message before them. The first ${FIRST_DAYS} days, in which a place's habits are learned, are counted apart.

The budget: at most ${BUDGET.medium} false message of medium priority or above in a year at a place, and none that is critical.
${years.length} site-years, ${needless} false ${needless === 1 ? 'message' : 'messages'} of medium or above; ${over.length === 0 ? 'every place within the budget' : `beyond the budget: ${over.map(({ place }) => place).join(', ')}`}.

| place | life | fills | samples | false: critical | high | medium | low | which | true messages | false in the first week | run time, s |
|---|---|---|---|---|---|---|---|---|---|---|---|
${years.map(row).join('\n')}

${details()}
`
}

function details(): string {
  const lines = years.flatMap((year) =>
    falseTold(year, 'low').map((one) => `- ${year.place}, ${one.at.slice(0, 16)} UTC, ${one.priority}: ${one.what}`),
  )
  return lines.length === 0 ? 'No false message at all.' : `## Each false message\n\n${lines.slice(0, 100).join('\n')}`
}
