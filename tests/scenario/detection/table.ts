/** `npm run detection`: every first-set fault × severity × seed × site, as a table in docs/detection.md. */
import { writeFileSync } from 'node:fs'
import { FAULTS } from '../../../simulators/fault-table.js'
import { SEVERITIES } from '../../../simulators/fault.js'
import { EXPECTATIONS, expected } from './expectations.js'
import { type Outcome, runCase } from './run-case.js'

const seeds = (process.argv.find((word) => word.startsWith('--seeds='))?.slice(8) ?? '1,2,3').split(',').map(Number)
const only = process.argv
  .find((word) => word.startsWith('--only='))
  ?.slice(7)
  .split(',')
const site = process.argv.find((word) => word.startsWith('--site='))?.slice(7)
const outcomes: Outcome[] = []
for (const expectation of EXPECTATIONS) {
  if (only !== undefined && !only.includes(expectation.kind)) continue
  for (const place of FAULTS[expectation.kind].sites) {
    if (site !== undefined && site !== place) continue
    for (const severity of SEVERITIES) {
      for (const seed of seeds) {
        const outcome = await runCase(expectation, place, severity, seed)
        outcomes.push(outcome)
        const after = outcome.toldAfterMs === null ? 'not told' : `${(outcome.toldAfterMs / 60_000).toFixed(1)} min`
        const words = outcome.wrong.length > 0 ? `WRONG ${outcome.wrong.join(', ')}` : ''
        process.stderr.write(
          `${outcome.inTime && words === '' ? 'ok  ' : 'MISS'} ${place} ${expectation.kind}:${severity} seed ${seed}: ${outcome.from === null ? 'never came about' : after}; ${outcome.messages} messages ${words}\n`,
        )
      }
    }
  }
}
const came = outcomes.filter((one) => one.from !== null)
const found = came.filter((one) => one.inTime).length
const wrong = outcomes.filter((one) => one.wrong.length > 0).length
process.stderr.write(`${found} of ${came.length} found in time, ${wrong} with a wrong diagnosis\n`)
if (process.argv.includes('--write')) writeFileSync(new URL('../../../docs/detection.md', import.meta.url), page())

function minutes(values: readonly number[]): string {
  if (values.length === 0) return '–'
  const low = Math.min(...values) / 60_000
  const high = Math.max(...values) / 60_000
  return high - low < 0.05 ? high.toFixed(1) : `${low.toFixed(1)}–${high.toFixed(1)}`
}

function page(): string {
  const rows = EXPECTATIONS.flatMap((expectation) =>
    FAULTS[expectation.kind].sites.flatMap((place) =>
      SEVERITIES.map((severity) => {
        const mine = outcomes.filter(
          (one) => one.expectation.kind === expectation.kind && one.site === place && one.severity === severity,
        )
        const here = mine.filter((one) => one.from !== null)
        const told = here.flatMap((one) => one.toldAfterMs ?? [])
        const { says } = expected(expectation, place, severity)
        const wrongs = [...new Set(mine.flatMap((one) => one.wrong))].join(', ') || 'none'
        const messages = mine.map((one) => one.messages)
        return `| ${expectation.kind} | ${FAULTS[expectation.kind].levels[severity].words} | ${place} | ${says} | ${here.filter((one) => one.inTime).length} of ${here.length} | ${minutes(told)} | ${wrongs} | ${Math.min(...messages)}–${Math.max(...messages)} |`
      }),
    ),
  )
  return `# Which faults are found, and how soon

Made by \`npm run detection -- --write\`: each fault of the first set of alarms, in three severities, with ${seeds.length} seeds, at both example
sites, after fourteen ordinary days. "Found" is: the right alarm, told within its time of docs/alarms.md, counted from the moment that
the fault can be felt (the water stops, the pump is called for, the line reaches 0 °C), not from when it was switched on. A case in which that
moment never came within the watched days is not counted. "Wrong" is any other alarm told that is neither a consequence nor one of the groups below.

${found} of ${came.length} found in time; ${wrong} cases with a wrong diagnosis.

| fault | how bad | site | says | found in time | told after, min | wrong | messages in a day |
|---|---|---|---|---|---|---|---|
${rows.join('\n')}

## Where the sensors cannot show it as soon, or not at all

A dry well and a pump that lost its prime or its coupling look the same: both are told as dry-well, and both causes are named.

${exceptions()}
`
}

function exceptions(): string {
  return EXPECTATIONS.flatMap((expectation) =>
    (expectation.except ?? []).map(({ site: place, severity, says, within, because }) => {
      const where = [place, severity].filter((one) => one !== undefined).join(', ')
      const told = `${says ?? expectation.says} within ${((within ?? expectation.within) / 60_000).toFixed(0)} min`
      return `- ${expectation.kind} (${where}): ${told}, since ${because}.`
    }),
  ).join('\n')
}
