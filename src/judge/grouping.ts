/**
 * One fault, one story: which standing alarm explains another, by the table that each alarm's file gives. The
 * explained one is shown beneath its cause and not told.
 */
import { type AlarmId, atLeast } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { Ms } from '../model/time.js'
import type { AlarmDefinition, Explainer } from './definition.js'
import { type Entry, stands } from './entry.js'

/** What grouping has to know of the alarms and of the site. */
export type Table = {
  definitionOf(id: AlarmId): AlarmDefinition | null
  /** The board that a signal key or a board id belongs to; null: none. */
  boardOf(subject: string): string | null
}

/**
 * Whether `cause` explains `entry` by the table.
 *
 * A less urgent alarm never hides a more urgent one: who asked for urgent ones only would not hear of either.
 *
 * A cause stands while it is raised, and until its all-clear has been told: so a consequence that outlives its cause by
 * some minutes does not become a message of its own.
 */
export function explains(cause: Entry, entry: Entry, table: Table, at: Ms): boolean {
  if (cause === entry || cause.occurrence === null || entry.occurrence === null) return false
  if (!stands(cause) && (cause.told === null || at - (cause.occurrence.cleared ?? at) >= LIMITS.groupHoldMs))
    return false
  if (cause.state === 'shelved' || cause.state === 'suppressed' || cause.state === 'out-of-service') return false
  if (!atLeast(cause.occurrence.priority, entry.occurrence.priority)) return false
  const explainers = table.definitionOf(entry.id)?.explainedBy ?? []
  return explainers.some((explainer) => fits(explainer, cause, entry, table))
}

function fits(explainer: Explainer, cause: Entry, entry: Entry, table: Table): boolean {
  if (explainer.by !== cause.id || cause.occurrence === null || entry.occurrence === null) return false
  if (cause.id === entry.id && !cameBefore(cause, entry)) return false
  if (explainer.causes !== undefined && !explainer.causes.includes(cause.occurrence.cause)) return false
  if (explainer.ofCauses !== undefined && !explainer.ofCauses.includes(entry.occurrence.cause)) return false
  if (explainer.withinMs !== undefined && entry.occurrence.raised - cause.occurrence.raised > explainer.withinMs)
    return false
  return explainer.sameBoard !== true || sameBoard(cause.subject, entry.subject, table)
}

/** Of several of one kind the first explains the others, never the other way round. */
function cameBefore(one: Entry, other: Entry): boolean {
  const difference = (one.occurrence?.raised ?? 0) - (other.occurrence?.raised ?? 0)
  return difference < 0 || (difference === 0 && one.key < other.key)
}

function sameBoard(one: string, other: string, table: Table): boolean {
  const board = table.boardOf(one)
  return board !== null && board === table.boardOf(other)
}

/**
 * The alarm that explains this one now: among several, the one raised first (first-out). Null: none does. An
 * explanation never runs in a circle, and where two could explain each other the earlier one does.
 */
export function findCause(entry: Entry, entries: readonly Entry[], table: Table, at: Ms): Entry | null {
  let first: Entry | null = null
  for (const other of entries) {
    if (!explains(other, entry, table, at) || leadsTo(other, entry.key, entries)) continue
    if (!cameBefore(other, entry) && explains(entry, other, table, at)) continue
    if (first === null || cameBefore(other, first)) first = other
  }
  return first
}

/** Whether following explanations from `entry` arrives at `key`. */
function leadsTo(entry: Entry, key: string, entries: readonly Entry[]): boolean {
  let here: Entry | undefined = entry
  for (let steps = 0; here !== undefined && steps <= entries.length; steps += 1) {
    const up: string | null = here.explainedBy
    if (up === null) return false
    if (up === key) return true
    here = entries.find((one) => one.key === up)
  }
  return false
}

/** The table as pairs, for the manual and for its test. */
export function explanationTable(definitions: readonly AlarmDefinition[]): readonly (readonly [AlarmId, AlarmId])[] {
  return definitions.flatMap(({ id, explainedBy }) => explainedBy.map(({ by }) => [by, id] as const))
}
