/**
 * One way at work: its rows one after the other, so that an all-clear never overtakes its alarm and a way that hangs
 * hangs for one row only. What was sent is noted last, after the other side took it.
 */
import { PRIORITIES } from '../model/alarm.js'
import { LIMITS } from '../model/limits.js'
import type { OutboxRow } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { type After, attempt, errorWords } from './attempt.js'
import { digest } from './digest.js'
import { gather } from './gather.js'
import type { OutboxStore } from './outbox-store.js'
import { isTooOld, nextAttempt } from './retry.js'
import type { SendResult, Way } from './way.js'
import type { WayBook } from './way-book.js'

export type TellLog = {
  info(fields: object, text: string): void
  warn(fields: object, text: string): void
  error(fields: object, text: string): void
}

export type Courier = {
  readonly store: OutboxStore
  readonly book: WayBook
  readonly clock: { now(): Ms }
  readonly after: After
  readonly log: TellLog
  /** Notes that the store would not take yet, by row: the row is not sent again before its note is written. */
  readonly unwritten: Map<number, () => void>
  /** When a row that still waits was last tried, so that one that always fails cannot stand before the others. */
  readonly lastTried: Map<number, Ms>
}

export type WayAtWork = { readonly site: SiteSettings; readonly id: string; readonly way: Way }

/** Rows of one way in one run; what is left goes in the next, after anything more urgent that has come by then. */
const ROWS_PER_RUN = 50
/** How far back the outbox is searched for what waits behind a way that has just come back. */
const BACKLOG_MAX = 300

/** Those not tried yet first, then those tried longest ago; among equals the most urgent, then the oldest. */
function inTurn({ lastTried }: Courier, rows: readonly OutboxRow[]): readonly OutboxRow[] {
  const tried = ({ id }: OutboxRow) => lastTried.get(id) ?? 0
  const urgency = ({ priority }: OutboxRow) => PRIORITIES.indexOf(priority)
  return [...rows].sort((a, b) => tried(a) - tried(b) || urgency(a) - urgency(b) || a.id - b.id)
}

/** Writes now, or keeps the note for the next round when the store cannot. */
function note(courier: Courier, id: number, write: () => void): void {
  try {
    courier.store.transaction(write)
    courier.unwritten.delete(id)
  } catch (error) {
    courier.unwritten.set(id, write)
    courier.log.error({ row: id, error: errorWords(error) }, 'outbox: cannot note what became of a message')
  }
}

function backlog(courier: Courier, { site, id }: WayAtWork, now: Ms): readonly OutboxRow[] {
  return courier.store.outbox
    .list(site.id, BACKLOG_MAX)
    .filter((row) => row.way === id && row.state === 'waiting' && row.due <= now)
}

/** Replaces rows that are better told together by their digest, in one transaction. */
function fold(courier: Courier, work: WayAtWork, rows: readonly OutboxRow[], now: Ms): boolean {
  const people = new Set(rows.map(({ person }) => person))
  const groups = [...people].flatMap((person) =>
    gather(
      rows.filter((row) => row.person === person && !courier.unwritten.has(row.id)),
      work.site,
      now,
    ),
  )
  if (groups.length === 0) return false
  courier.store.transaction(() => {
    for (const { why, rows: members } of groups) {
      courier.store.outbox.add(digest({ rows: members, why, site: work.site, now }))
      for (const { id } of members) courier.store.outbox.sent(id, now)
    }
  })
  for (const { id } of groups.flatMap((group) => group.rows)) courier.lastTried.delete(id)
  return true
}

function noteSent(courier: Courier, { site, id }: WayAtWork, row: OutboxRow): void {
  const at = courier.clock.now()
  courier.book.worked(site.id, id, at)
  courier.lastTried.delete(row.id)
  note(courier, row.id, () => {
    courier.store.outbox.sent(row.id, at)
    courier.store.ways.note(site.id, id, at, null)
  })
  courier.log.info({ site: site.id, way: id, person: row.person, about: row.about, kind: row.kind }, 'told')
}

/** A passing "not now" about one message says nothing against the way until it has been said a few times. */
function blamesWay(result: SendResult & { ok: false }, attempts: number): boolean {
  return result.wholeWay || !result.retry || attempts >= 3
}

function noteFailure(courier: Courier, work: WayAtWork, row: OutboxRow, result: SendResult & { ok: false }): void {
  const { site, id } = work
  const at = courier.clock.now()
  const next = result.retry
    ? nextAttempt(row, at, result.waitMs)
    : { what: 'give-up' as const, why: 'refused for good' }
  const blamed = blamesWay(result, row.attempts + 1)
  const before = courier.book.get(site.id, id).error
  if (blamed) courier.book.failed(site.id, id, at, result.error)
  if (next.what === 'retry') courier.lastTried.set(row.id, at)
  else courier.lastTried.delete(row.id)
  note(courier, row.id, () => {
    if (next.what === 'retry') courier.store.outbox.retry(row.id, next.at, result.error)
    else courier.store.outbox.failed(row.id, `${next.why}: ${result.error}`)
    // Only when it changes, so that the store keeps since when the way has been failing.
    if (blamed && before !== result.error) courier.store.ways.note(site.id, id, at, result.error)
  })
  // Said once until it changes: a way that is down for a day is one line, not fifty.
  if (before !== result.error || next.what === 'give-up') {
    courier.log.warn({ site: site.id, way: id, person: row.person, error: result.error, next: next.what }, 'not told')
  }
}

/** Rows behind one that met a way that is down wait like it, without trying: each would only meet the same. */
function postpone(courier: Courier, rows: readonly OutboxRow[], result: SendResult & { ok: false }): void {
  const at = courier.clock.now()
  for (const row of rows) {
    const next = nextAttempt(row, at, result.waitMs)
    note(courier, row.id, () => {
      if (next.what === 'retry') courier.store.outbox.retry(row.id, next.at, `held back, ${result.error}`)
      else courier.store.outbox.failed(row.id, `${next.why}: ${result.error}`)
    })
  }
}

/** Sends rows in turn; answers whether the way has come back, so that what waits behind it can go too. */
async function sendInTurn(courier: Courier, work: WayAtWork, rows: readonly OutboxRow[]): Promise<boolean> {
  let cameBack = false
  for (const [index, row] of rows.slice(0, ROWS_PER_RUN).entries()) {
    const wrote = courier.unwritten.get(row.id)
    if (wrote !== undefined) {
      note(courier, row.id, wrote)
      continue
    }
    if (isTooOld(row, courier.clock.now())) {
      courier.lastTried.delete(row.id)
      note(courier, row.id, () => courier.store.outbox.failed(row.id, 'not delivered within 48 h'))
      continue
    }
    const troubled = row.attempts > 0 || courier.book.get(work.site.id, work.id).failingSince !== null
    const result = await attempt(work.way, row, courier.after, LIMITS.deliveryDeadlineMs)
    if (result.ok) {
      noteSent(courier, work, row)
      cameBack ||= troubled
      continue
    }
    noteFailure(courier, work, row, result)
    if (!result.wholeWay) continue
    postpone(courier, rows.slice(index + 1), result)
    return false
  }
  return cameBack
}

/**
 * Works one way's due rows: gathers, sends, notes; and when a way that failed works again, sends at once all that
 * waited for it, whatever its next attempt was to be.
 *
 * @throws what the store throws while rows are read or folded; nothing has been sent by then that is not noted
 */
export async function workWay(
  courier: Courier,
  work: WayAtWork,
  dueRows: readonly OutboxRow[],
  now: Ms,
): Promise<void> {
  let rows = dueRows
  const troubled = rows.some(({ attempts }) => attempts > 0)
  if (fold(courier, work, troubled ? backlog(courier, work, now) : rows, now)) {
    const reread = backlog(courier, work, now)
    const known = new Set(rows.map(({ id }) => id))
    rows = reread.filter((row) => known.has(row.id) || row.nextAt <= now)
  }
  const cameBack = await sendInTurn(courier, work, inTurn(courier, rows))
  if (!cameBack) return
  const later = courier.clock.now()
  fold(courier, work, backlog(courier, work, later), later)
  await sendInTurn(courier, work, inTurn(courier, backlog(courier, work, later)))
}
