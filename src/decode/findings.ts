import type { RoleId, SignalKey } from '../model/roles.js'
import type { Arrival, Refusal, RefusalReason } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import { exampleOf } from './example.js'
import type { Target } from './target.js'

/** What has been found in one message so far; becomes a `Decoded`. */
export type Findings = {
  readonly site: string
  readonly board: string
  readonly samples: { readonly key: SignalKey; readonly role: RoleId; t: Ms; readonly value: number }[]
  readonly refusals: Refusal[]
  clockSuspect: boolean
}

export function newFindings(site: string, board: string): Findings {
  return { site, board, samples: [], refusals: [], clockSuspect: false }
}

export function refuse(findings: Findings, arrival: Arrival, reason: RefusalReason, found: unknown, what = ''): void {
  findings.refusals.push({ reason, board: findings.board, at: arrival.at, example: exampleOf(what, found) })
}

export function keep(findings: Findings, target: Target, t: Ms, value: number): void {
  findings.samples.push({ key: target.signal.key, role: target.signal.role, t, value })
}

/** Said of a message that a broker had kept: without a time of its own it may be from any day. */
export const KEPT_BY_BROKER = 'kept by the broker, without a time of its own'
