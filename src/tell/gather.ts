/**
 * The stage before sending that saves people from a pile: rows held to one instant become one digest, and what was
 * raised and cleared before any of it could be delivered becomes one line of one.
 */
import type { OutboxRow } from '../model/message.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { byAlarm, type DigestWhy, isMissedDigest } from './digest.js'
import { wasHeld } from './hold.js'

export type Gathered = { readonly why: DigestWhy; readonly rows: readonly OutboxRow[] }

function groupBy<K>(rows: readonly OutboxRow[], keyOf: (row: OutboxRow) => K): readonly OutboxRow[][] {
  const groups = new Map<K, OutboxRow[]>()
  for (const row of rows) {
    const key = keyOf(row)
    const group = groups.get(key)
    if (group === undefined) groups.set(key, [row])
    else group.push(row)
  }
  return [...groups.values()]
}

function heldTogether(rows: readonly OutboxRow[], site: SiteSettings): readonly Gathered[] {
  const held = rows.filter((row) => row.kind !== 'digest' && row.kind !== 'test' && wasHeld(row, site))
  return groupBy(held, ({ due }) => due)
    .filter((group) => group.length > 1)
    .map((group) => ({ why: 'held', rows: group }))
}

/** Raised and over, neither of it delivered: only worth a line. */
function overUnheard(rows: readonly OutboxRow[]): readonly OutboxRow[] {
  const alarms = rows.filter(({ kind }) => kind === 'alarm' || kind === 'all-clear')
  return byAlarm(alarms)
    .filter((group) => group.some(({ kind }) => kind === 'alarm') && group.at(-1)?.kind === 'all-clear')
    .flat()
}

/**
 * What of these rows is better told together.
 *
 * @param rows waiting and due (`due` ≤ now, whatever their next attempt), to one person by one way of the site
 */
export function gather(rows: readonly OutboxRow[], site: SiteSettings, now: Ms): readonly Gathered[] {
  const due = rows.filter((row) => row.due <= now)
  const held = heldTogether(due, site)
  const taken = new Set(held.flatMap((group) => group.rows.map(({ id }) => id)))
  const rest = due.filter(({ id }) => !taken.has(id))
  const unheard = overUnheard(rest)
  if (unheard.length === 0) return held
  const earlier = rest.filter(isMissedDigest)
  return [...held, { why: 'missed', rows: [...earlier, ...unheard] }]
}
