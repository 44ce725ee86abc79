/** What the tests of the pump's faults share. */
import { parseFault, SEVERITIES, type Severity } from '../../simulators/fault.js'
import type { FaultKind } from '../../simulators/fault-table.js'
import { planOf, SITE_IDS, type SiteId, usualCurrentA } from '../../simulators/plan.js'
import type { TrueRun } from '../../simulators/truth.js'
import { between, hours, median, START, watch, type Watched } from './watch.js'

/** Eight people, so that several fills fall into a day; the fault begins at 04:00 and nobody mends it. */
export function under(site: SiteId, kind: FaultKind, severity: Severity): Watched {
  return watch({ site, days: 0.8, people: 8, faults: [parseFault(`${kind}:${severity}@4h`, START)] })
}

export function firstRun(watched: Watched): TrueRun {
  const run = watched.truth.runs.find(({ start }) => start >= START + hours(4))
  if (run === undefined) throw new Error('no run after the fault began')
  return run
}

export function currentShare(watched: Watched, site: SiteId, from: number, to: number): number {
  return median(between(watched, 'pump-current', from, to)) / usualCurrentA(planOf(site))
}

export const cases = SITE_IDS.flatMap((site) => SEVERITIES.map((severity) => [site, severity] as const))
