/** SenML packs of a board: each record becomes a sample or a refusal, and one bad record spoils no other. */
import { LIMITS } from '../model/limits.js'
import { standardUnit } from '../model/payload-units.js'
import type { Arrival, RefusalReason } from '../model/sample.js'
import type { Ms } from '../model/time.js'
import { readContact } from './contact.js'
import { exampleOf } from './example.js'
import { type Findings, KEPT_BY_BROKER, keep, refuse } from './findings.js'
import type { NameTable } from './names.js'
import {
  type Base,
  RELATIVE_BELOW_S,
  type Resolved,
  newBase,
  newResolved,
  resolveRecord,
  versionFault,
} from './senml.js'
import { type Target, doubt, toSi, unitOf } from './target.js'
import { type Unset, UnsetClocks, plainTime, timing } from './times.js'

/** A sample whose board's clock was never set: it gets its time when the whole pack has been seen. */
type Waiting = { readonly sample: number; readonly record: unknown; readonly unset: Unset; readonly stampS: number }

type Work = {
  readonly arrival: Arrival
  readonly names: NameTable
  readonly findings: Findings
  readonly base: Base
  readonly resolved: Resolved
  readonly clocks: UnsetClocks
  readonly waiting: Waiting[]
}

/**
 * Decodes a pack.
 *
 * @param document the parsed payload; anything but a non-empty array is `not-senml`
 * @param text the payload as text, for the example of a refusal
 */
export function decodePack(
  names: NameTable,
  document: unknown,
  text: string,
  arrival: Arrival,
  findings: Findings,
): void {
  if (!Array.isArray(document) || document.length === 0) {
    const what = document === undefined ? 'not JSON' : 'expected an array of one or more records'
    refuse(findings, arrival, 'not-senml', text, what)
    return
  }
  const pack: readonly unknown[] = document
  const version = versionFault(pack)
  if (version !== null) {
    refuse(findings, arrival, 'not-senml', text, version)
    return
  }
  const work: Work = {
    arrival,
    names,
    findings,
    base: newBase(),
    resolved: newResolved(),
    clocks: new UnsetClocks(),
    waiting: [],
  }
  const count = Math.min(pack.length, LIMITS.recordsMax)
  for (let index = 0; index < count; index++) takeRecord(work, pack[index])
  if (pack.length > count) {
    refuse(findings, arrival, 'too-large', pack[count], `${pack.length} records, at most ${count} are read`)
  }
  if (work.waiting.length > 0) placeWaiting(work)
}

function takeRecord(work: Work, record: unknown): void {
  const { arrival, findings, resolved } = work
  const outcome = resolveRecord(work.base, record, resolved)
  if (outcome === 'base-only') return
  if (outcome !== 'value') {
    refuse(findings, arrival, 'not-senml', record, outcome.fault)
    return
  }
  const t = plainTime(resolved.timeS, arrival.at)
  const when = Number.isNaN(t) ? timing(resolved.timeS, arrival.at) : null
  // Noted before anything else is judged: the newest stamp of the pack counts even where its record is refused.
  if (when !== null && 'unset' in when) work.clocks.note(when.unset, when.stampS)

  const target = work.names.find(resolved.name)
  if (target === 'unknown') {
    refuse(findings, arrival, 'unknown-name', record, nameAlone(resolved.name))
    return
  }
  if (target === 'not-a-name') {
    refuse(findings, arrival, 'not-senml', record, `the name "${nameAlone(resolved.name)}" is not allowed`)
    return
  }
  if (when !== null && 'refuse' in when) {
    refuse(findings, arrival, when.refuse, record)
    return
  }
  if (arrival.retain && (when !== null || resolved.timeS < RELATIVE_BELOW_S)) {
    refuse(findings, arrival, 'too-old', record, KEPT_BY_BROKER)
    return
  }
  const value = readingOf(target, resolved)
  if (typeof value === 'string') {
    refuse(findings, arrival, value, record)
    if (!saysFailed(value)) return
  }
  if (when !== null && 'unset' in when) {
    findings.clockSuspect = true
    work.waiting.push({ sample: findings.samples.length, record, unset: when.unset, stampS: when.stampS })
  }
  keep(findings, target, t, typeof value === 'string' ? Number.NaN : value)
}

const nameAlone = (name: string): string => exampleOf('', name)

/** Reasons by which the sensor itself is seen to have failed: the sample is kept as NaN, so the loss can be told. */
export function saysFailed(reason: RefusalReason): boolean {
  return reason === 'sentinel' || reason === 'out-of-range' || reason === 'not-finite'
}

function readingOf(target: Target, resolved: Resolved): number | RefusalReason {
  const { spec, signal } = target
  if (spec.kind === 'contact') {
    if (resolved.kind === 'none') return 'unit'
    if (resolved.kind === 'data') return 'not-senml'
    if (resolved.kind === 'number' && standardUnit('', resolved.unit) === null) return 'unit'
    if (typeof resolved.value === 'number' && signal.sentinels.includes(resolved.value)) return 'sentinel'
    return readContact(target.truth, resolved.value)
  }
  if (spec.kind === 'counter' && resolved.sum !== null && resolved.unit !== '') {
    // A sum is in unit times seconds (RFC 8428 section 4.2): litres, where the unit is litres a second.
    const perSecond = standardUnit(`${spec.unit}/s`, resolved.unit)
    if (perSecond !== null) {
      const total = toSi(target, resolved.sum, perSecond)
      return doubt(target, resolved.sum, total) ?? total
    }
  }
  if (resolved.kind === 'none') return 'unit'
  if (resolved.kind !== 'number' || typeof resolved.value !== 'number') return 'not-senml'
  const unit = unitOf(target, resolved.unit)
  if (unit === null) return 'unit'
  const si = toSi(target, resolved.value, unit)
  return doubt(target, resolved.value, si) ?? si
}

function placeWaiting(work: Work): void {
  const { arrival, findings, clocks } = work
  let lost = 0
  for (const { sample, record, unset, stampS } of work.waiting) {
    const t: Ms | null = clocks.place(unset, stampS, arrival.at)
    const waiting = findings.samples[sample]
    if (waiting === undefined) continue
    if (t === null) {
      refuse(findings, arrival, 'too-old', record)
      lost++
    } else {
      waiting.t = t
    }
  }
  if (lost === 0) return
  const placed = findings.samples.filter((sample) => !Number.isNaN(sample.t))
  findings.samples.splice(0, findings.samples.length, ...placed)
}
