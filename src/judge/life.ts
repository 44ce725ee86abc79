/** The life of one alarm at one look: delays, suppression, raise, worsening, return. No messages here. */
import { ALARM_SPECS } from '../model/alarm-settings.js'
import { atLeast, type Priority } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { SiteSettings } from '../model/settings.js'
import { HOUR, type Ms } from '../model/time.js'
import { advance } from './delay.js'
import { type AlarmDefinition, delaysOf, type Verdict, type View, type Watch } from './definition.js'
import { type Because, type Entry, stands } from './entry.js'
import { type AlarmEvent, moved } from './machine.js'
import type { Phrase } from './phrase.js'

/** One alarm of one site, ready to be judged. */
export type Judged = {
  readonly definition: AlarmDefinition
  readonly watch: Watch
  readonly delays: { readonly onDelayS: number; readonly offDelayS: number }
  readonly configured: Priority | null
  /** The owner has set how long it must hold. */
  readonly delaySet: boolean
}

export function judged(definition: AlarmDefinition, site: SiteSettings): Judged {
  return {
    definition,
    watch: definition.prepare(site),
    delays: delaysOf(definition.id, site),
    configured: site.alarms[definition.id]?.priority ?? null,
    delaySet: (site.alarms[definition.id]?.onDelayS ?? null) !== null,
  }
}

/** What a look did to an entry; `worsened` besides, since only that can be told of an alarm that was told. */
export type Step = { changed: boolean; worsened: boolean }

/**
 * Takes one look at one alarm.
 *
 * @param verdict what the look says; null: the subject does not hold
 */
export function live(entry: Entry, alarm: Judged, verdict: Verdict | null, view: View, say: Phrase, step: Step): void {
  const { definition } = alarm
  const at = definition.clock === 'now' ? view.now : view.at
  const delays = delaysFor(alarm, verdict)
  const change = advance(entry.delay, verdict?.holds ?? false, verdict?.since ?? null, at, delays)
  if (change === 'became-normal') returnToNormal(entry, definition.latches, entry.delay.goneSince ?? at, step)
  endShelf(entry, at, step)
  suppressOrRestore(entry, suppression(definition, view), step)
  if (
    verdict?.holds === true &&
    entry.delay.active &&
    entry.state !== 'suppressed' &&
    entry.state !== 'out-of-service'
  ) {
    if (stands(entry)) {
      worsen(entry, alarm, verdict, view, say, step)
      refine(entry, alarm, verdict, view, say, step)
    } else if (view.now - at <= LIMITS.staleAlarmMs) raise(entry, alarm, verdict, view, say, at, step)
  }
  expire(entry, at, step)
}

/** The owner's delay, else the cause's own, else the alarm's. */
function delaysFor(alarm: Judged, verdict: Verdict | null): Judged['delays'] {
  const own = verdict?.onDelayS
  return own === undefined || alarm.delaySet ? alarm.delays : { ...alarm.delays, onDelayS: own }
}

function move(entry: Entry, event: AlarmEvent, because: Because, step: Step): void {
  entry.state = moved(entry.state, event)
  entry.because = because
  step.changed = true
}

function raise(entry: Entry, alarm: Judged, verdict: Verdict, view: View, say: Phrase, at: Ms, step: Step): void {
  const since = entry.delay.holdingSince ?? at
  entry.occurrence = {
    since,
    raised: at,
    cleared: null,
    priority: priorityOf(alarm, verdict),
    cause: verdict.cause,
    evidence: verdict.evidence,
    words: alarm.watch.words({ view, verdict, since, say }),
    acknowledgedBy: null,
    acknowledgedAt: null,
  }
  entry.explainedBy = null
  entry.latch = alarm.definition.latches
  entry.raises.push(at)
  if (entry.raises.length > LIMITS.raisesKeptMax) entry.raises.shift()
  move(entry, 'alarm', 'limit-crossed', step)
}

/** A configured priority stands; else the more urgent of the alarm's usual one and the verdict's. */
function priorityOf(alarm: Judged, verdict: Verdict): Priority {
  if (alarm.configured !== null) return alarm.configured
  const usual = ALARM_SPECS[alarm.definition.id].priority
  return verdict.priority !== null && atLeast(verdict.priority, usual) ? verdict.priority : usual
}

function worsen(entry: Entry, alarm: Judged, verdict: Verdict, view: View, say: Phrase, step: Step): void {
  const { occurrence } = entry
  if (occurrence === null) return
  const priority = priorityOf(alarm, verdict)
  if (atLeast(occurrence.priority, priority)) return
  occurrence.priority = priority
  occurrence.cause = verdict.cause
  occurrence.evidence = verdict.evidence
  occurrence.words = alarm.watch.words({ view, verdict, since: occurrence.since, say })
  occurrence.acknowledgedBy = null
  occurrence.acknowledgedAt = null
  entry.latch = alarm.definition.latches
  step.worsened = true
  move(entry, 'worsen', 'worsened', step)
}

/** A surer cause, and hourly its newer figures, take the place of a first guess: on the page and in the all-clear, without a message of its own. */
function refine(entry: Entry, alarm: Judged, verdict: Verdict, view: View, say: Phrase, step: Step): void {
  const { occurrence } = entry
  const { surerCauses } = alarm.definition
  if (occurrence === null || surerCauses.length === 0) return
  const surer = surerCauses.indexOf(verdict.cause) - surerCauses.indexOf(occurrence.cause)
  const fresh = surer === 0 && surerCauses.includes(verdict.cause) && view.at - (occurrence.refined ?? 0) >= HOUR
  if (surer <= 0 && !fresh) return
  occurrence.refined = view.at
  occurrence.cause = verdict.cause
  occurrence.evidence = verdict.evidence
  occurrence.words = alarm.watch.words({ view, verdict, since: occurrence.since, say })
  entry.because = 'cause-surer'
  step.changed = true
}

function returnToNormal(entry: Entry, latches: boolean, cleared: Ms, step: Step): void {
  entry.delay.goneSince = null
  if (!stands(entry) || entry.occurrence === null) return
  entry.occurrence.cleared = cleared
  move(entry, latches ? 'clear-latching' : 'clear', 'back-to-normal', step)
}

function endShelf(entry: Entry, at: Ms, step: Step): void {
  if (entry.state !== 'shelved' || entry.shelvedUntil === null || at < entry.shelvedUntil) return
  restore(entry, 'shelf-over', step)
}

/** Off the shelf, out of suppression or back in service: where the condition says. */
export function restore(entry: Entry, because: Because, step: Step): void {
  entry.shelvedUntil = null
  entry.shelveReason = null
  move(entry, stands(entry) ? 'restore-active' : entry.latch ? 'restore-latched' : 'restore-normal', because, step)
}

function suppression(definition: AlarmDefinition, { facts, modes, now }: View): Because | null {
  if (definition.quietWhenWinterized && modes.winterized) return 'winterized'
  if (definition.quietInMaintenance && modes.maintenanceUntil !== null && now < modes.maintenanceUntil) {
    return 'maintenance'
  }
  return definition.quietWhenLearning && facts.learning ? 'learning' : null
}

function suppressOrRestore(entry: Entry, because: Because | null, step: Step): void {
  if (entry.state === 'suppressed') {
    if (because === null || !entry.delay.active) restore(entry, 'suppression-over', step)
    return
  }
  if (because === null || !entry.delay.active) return
  if (entry.state === 'shelved' || entry.state === 'out-of-service') return
  move(entry, 'suppress', because, step)
}

function expire(entry: Entry, at: Ms, step: Step): void {
  const cleared = entry.occurrence?.cleared ?? null
  if (entry.state !== 'returned-unacknowledged' || cleared === null) return
  if (at - cleared >= LIMITS.returnedKeptMs) move(entry, 'expire', 'expired', step)
}

/** Nothing left to remember: the entry can go. */
export function isForgotten(entry: Entry): boolean {
  return (
    entry.state === 'normal' &&
    !entry.delay.active &&
    entry.delay.holdingSince === null &&
    !stands(entry) &&
    entry.told === null &&
    entry.notices.length === 0 &&
    entry.raises.length === 0
  )
}
