/** Boards that are already out there: one number as text, or any JSON with a pointer to the value. */
import type { Arrival, RefusalReason } from '../model/sample.js'
import { readContact } from './contact.js'
import { type Findings, KEPT_BY_BROKER, keep, refuse } from './findings.js'
import { type Pointer, follow, parsePointer } from './json-pointer.js'
import { saysFailed } from './native.js'
import { numberIn } from './number-text.js'
import { type Target, doubt, toSi } from './target.js'

export type Mapping = { readonly target: Target; readonly pointer: Pointer | null }

/** @throws Error naming the signal when its pointer is none (RFC 6901) */
export function mappingOf(target: Target): Mapping {
  const { signal } = target
  if (signal.decode !== 'json') return { target, pointer: null }
  const pointer = parsePointer(signal.pointer ?? '')
  if (pointer !== null) return { target, pointer }
  throw new Error(
    `signal ${signal.key}: found pointer "${signal.pointer}", expected an RFC 6901 pointer such as "/sensor/level"`,
  )
}

/**
 * Decodes one message for the mapped signals of one board. It has no time of its own, so that of receipt is taken.
 * A payload that cannot be read as configured is `not-senml`, the contract's word for "not in the form agreed".
 *
 * @param document the payload as JSON, undefined when it is not; needed by pointers alone
 */
export function decodeMapped(
  mappings: readonly Mapping[],
  document: unknown,
  text: string,
  arrival: Arrival,
  findings: Findings,
): void {
  if (arrival.retain) {
    refuse(findings, arrival, 'too-old', text, KEPT_BY_BROKER)
    return
  }
  let found = 0
  let pointers = 0
  for (const mapping of mappings) {
    if (mapping.pointer === null) {
      take(mapping.target, text, text, arrival, findings)
      continue
    }
    pointers++
    if (document === undefined) continue
    const value = follow(document, mapping.pointer)
    if (value === undefined) continue
    found++
    take(mapping.target, value, text, arrival, findings)
  }
  if (pointers === 0 || found > 0) return
  // A message may carry some of a board's signals and not others; one that carries none is not what was agreed.
  if (document === undefined) refuse(findings, arrival, 'not-senml', text, 'not JSON')
  else refuse(findings, arrival, 'unknown-name', text, 'nothing at the configured pointers')
}

function take(target: Target, value: unknown, text: string, arrival: Arrival, findings: Findings): void {
  const reading = target.spec.kind === 'contact' ? contactIn(target, value) : quantityIn(target, value)
  if (typeof reading === 'number') {
    keep(findings, target, arrival.at, reading)
    return
  }
  refuse(findings, arrival, reading, text, target.signal.key)
  if (saysFailed(reading)) keep(findings, target, arrival.at, Number.NaN)
}

function contactIn(target: Target, value: unknown): number | RefusalReason {
  const number = typeof value === 'string' ? numberIn(value) : value
  if (typeof number === 'number' && target.signal.sentinels.includes(number)) return 'sentinel'
  return readContact(target.truth, value)
}

function quantityIn(target: Target, value: unknown): number | RefusalReason {
  const raw = value === null ? Number.NaN : typeof value === 'string' ? numberIn(value) : value
  if (typeof raw !== 'number') return 'not-senml'
  const si = toSi(target, raw, target.configured)
  return doubt(target, raw, si) ?? si
}
