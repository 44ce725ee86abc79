/** One of the processes of `npm run detection`. */
import type { FaultKind } from '../../../simulators/fault-table.js'
import type { Severity } from '../../../simulators/fault.js'
import type { SiteId } from '../../../simulators/plan.js'
import { answerJobs } from '../in-processes.js'
import { ALL_EXPECTATIONS } from './quiet.js'
import { type Outcome, runCase } from './run-case.js'

export type CaseJob = {
  readonly key: string
  readonly kind: FaultKind
  readonly site: SiteId
  readonly severity: Severity
  readonly seed: number
}
export type CaseResult = Pick<Outcome, 'from' | 'toldAfterMs' | 'inTime' | 'wrong' | 'messages'>

answerJobs<CaseJob, CaseResult>(async ({ kind, site, severity, seed }) => {
  const expectation = ALL_EXPECTATIONS.find((one) => one.kind === kind)
  if (expectation === undefined) throw new Error(`nothing is expected of ${kind}`)
  const { from, toldAfterMs, inTime, wrong, messages } = await runCase(expectation, site, severity, seed)
  return { from, toldAfterMs, inTime, wrong, messages }
})
