/** docs/detection.md, made of the cases. */
import { FAULTS } from '../../../simulators/fault-table.js'
import { type Severity, SEVERITIES } from '../../../simulators/fault.js'
import type { SiteId } from '../../../simulators/plan.js'
import { alsoRight, GROUPS } from './confusion.js'
import { type Expectation, expected } from './expectations.js'
import type { CaseJob, CaseResult } from './worker.js'

export type Case = CaseJob & CaseResult & { readonly expectation: Expectation }

export function isQuiet({ expectation, severity }: Pick<Case, 'expectation' | 'severity'>): boolean {
  return expectation.says === null || expectation.nothingOf?.includes(severity) === true
}

export function sumUp(cases: readonly Case[]) {
  const came = cases.filter((one) => one.from !== null)
  const quiet = cases.filter(isQuiet)
  return {
    came: came.length,
    found: came.filter((one) => one.inTime).length,
    never: cases.filter((one) => one.from === null && !isQuiet(one)).length,
    wrong: cases.filter((one) => one.wrong.length > 0).length,
    many: cases.filter((one) => one.messages > 3).length,
    quiet: quiet.length,
    loud: quiet.filter((one) => one.messages > 0).length,
  }
}

function minutes(values: readonly number[]): string {
  if (values.length === 0) return '–'
  const low = Math.min(...values) / 60_000
  const high = Math.max(...values) / 60_000
  return high - low < 0.05 ? high.toFixed(1) : `${low.toFixed(1)}–${high.toFixed(1)}`
}

function range(values: readonly number[]): string {
  const [low, high] = [Math.min(...values), Math.max(...values)]
  return low === high ? String(low) : `${low}–${high}`
}

type Group = {
  readonly expectation: Expectation
  readonly place: SiteId
  readonly severity: Severity
  readonly mine: readonly Case[]
}

function groups(expectations: readonly Expectation[], cases: readonly Case[]): readonly Group[] {
  return expectations.flatMap((expectation) =>
    FAULTS[expectation.kind].sites.flatMap((place) =>
      SEVERITIES.flatMap((severity) => {
        const mine = cases.filter(
          (one) => one.kind === expectation.kind && one.site === place && one.severity === severity,
        )
        return mine.length === 0 ? [] : [{ expectation, place, severity, mine }]
      }),
    ),
  )
}

function foundRow({ expectation, place, severity, mine }: Group): string {
  const here = mine.filter((one) => one.from !== null)
  const told = here.flatMap((one) => one.toldAfterMs ?? [])
  const { says } = expected(expectation, place, severity)
  const wrongs = [...new Set(mine.flatMap((one) => one.wrong))].join(', ') || 'none'
  const { words } = FAULTS[expectation.kind].levels[severity]
  const share = `${here.filter((one) => one.inTime).length} of ${here.length}`
  return `| ${expectation.kind} | ${words} | ${place} | ${says} | ${share} | ${minutes(told)} | ${wrongs} | ${range(mine.map((one) => one.messages))} |`
}

function quietRow({ expectation, place, severity, mine }: Group): string {
  const { words } = FAULTS[expectation.kind].levels[severity]
  const told = [...new Set(mine.flatMap((one) => one.wrong))].join(', ') || 'nothing'
  return `| ${expectation.kind} | ${words} | ${place} | ${mine.filter((one) => one.messages === 0).length} of ${mine.length} | ${told} |`
}

export function page(expectations: readonly Expectation[], cases: readonly Case[], seeds: number): string {
  const sum = sumUp(cases)
  const all = groups(expectations, cases)
  const percent = ((100 * sum.found) / Math.max(1, sum.came)).toFixed(1)
  return `# Which faults are found, and how soon

Made by \`npm run detection -- --write\`: each kind of fault of the simulators, in three severities, with ${seeds} seeds, at every example site
that can have it, after fourteen ordinary days. "Found" is: the right alarm, told within its time of docs/alarms.md, counted from the moment that
the fault can be felt (the water stops, the pump is called for, the line reaches 0 °C), not from when it was switched on. A case in which that
moment never came within the watched days is not counted (${sum.never} of them). "Wrong" is any other alarm told that is neither a consequence nor
one of the groups below.

**${sum.found} of ${sum.came} found in time (${percent} %); ${sum.wrong} cases with a wrong diagnosis; ${sum.many} with more than three messages in a day.**
Of ${sum.quiet} cases of which nothing ought to be said, ${sum.loud} were told.

| fault | how bad | site | says | found in time | told after, min | wrong | messages in a day |
|---|---|---|---|---|---|---|---|
${all
  .filter((one) => !isQuiet(one))
  .map(foundRow)
  .join('\n')}

## What must raise nothing

Disturbances that a place has to bear. "Silent" is: no message at all.

| disturbance | how bad | site | silent | told |
|---|---|---|---|---|
${all.filter(isQuiet).map(quietRow).join('\n')}

## What looks the same from outside

${GROUPS.map(({ of, because }) => `- **${of}**: ${because}.`).join('\n')}

What may be told beside the alarm, or in its place, without being wrong (consequences and the groups above):

| fault | says | also right |
|---|---|---|
${expectations
  .filter((one) => alsoRight(one) !== '')
  .map((one) => `| ${one.kind} | ${one.says ?? 'nothing'} | ${alsoRight(one)} |`)
  .join('\n')}

## Where the sensors cannot show it as soon, or not at all

${exceptions(expectations)}
`
}

function exceptions(expectations: readonly Expectation[]): string {
  return expectations
    .flatMap((expectation) =>
      (expectation.except ?? []).map(({ site: place, severity, says, within, because }) => {
        const where = [place, severity].filter((one) => one !== undefined).join(', ')
        const told = `${says ?? expectation.says} within ${((within ?? expectation.within) / 60_000).toFixed(0)} min`
        return `- ${expectation.kind} (${where}): ${told}, since ${because}.`
      }),
    )
    .join('\n')
}
