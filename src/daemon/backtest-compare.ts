/** What two runs over the same samples said, laid side by side. Pure. */
import type { AlarmId, Priority } from '../model/alarm.js'
import { HOUR, type Ms } from '../model/time.js'

/** One occurrence of an alarm, from its raise to its clear. */
export type Said = {
  readonly key: string
  readonly id: AlarmId
  readonly subject: string
  readonly priority: Priority
  readonly since: Ms
  readonly raised: Ms
  /** Null: it stood at the end. */
  readonly cleared: Ms | null
  readonly cause: string
  readonly title: string
  /** Key of the alarm beneath which it was shown. */
  readonly explainedBy: string | null
  /** It was a message of its own. */
  readonly told: boolean
}

/**
 * What became of an alarm under the other configuration. `priority`: raised at the same moment, otherwise urgent; `told`
 * and `grouped`: raised at the same moment, and now a message of its own, or now shown beneath another.
 */
export const CHANGES = ['added', 'gone', 'earlier', 'later', 'priority', 'told', 'grouped'] as const
export type ChangeKind = (typeof CHANGES)[number]

export type AlarmChange = {
  readonly change: ChangeKind
  readonly key: string
  readonly configured: Said | null
  readonly proposed: Said | null
  /** Raised so much later (negative: earlier) than as configured; null where one of the two is missing. */
  readonly byMs: Ms | null
}

/** Two occurrences that end and begin within this time of each other are one story. */
const NEAR_MS = HOUR

/**
 * Pairs the occurrences of one alarm in two runs: those whose spells overlap, or nearly do, each with one at most. What
 * has no partner is left alone.
 */
export function pair<A extends Spell, B extends Spell>(
  ours: readonly A[],
  theirs: readonly B[],
): readonly (readonly [A | null, B | null])[] {
  const keys = [...new Set([...ours, ...theirs].map((one) => one.key))].sort(byText)
  return keys.flatMap((key) => {
    const left = ours.filter((one) => one.key === key).sort(byRaised)
    const right = theirs.filter((one) => one.key === key).sort(byRaised)
    return pairOne(left, right)
  })
}

export type Spell = Pick<Said, 'key' | 'raised' | 'cleared'>

function pairOne<A extends Spell, B extends Spell>(left: readonly A[], right: readonly B[]) {
  const pairs: [A | null, B | null][] = []
  let i = 0
  let j = 0
  while (i < left.length || j < right.length) {
    const [one, other] = [left[i] ?? null, right[j] ?? null]
    if (one !== null && other !== null && near(one, other)) {
      pairs.push([one, other])
      i += 1
      j += 1
    } else if (other === null || (one !== null && one.raised <= other.raised)) {
      pairs.push([one, null])
      i += 1
    } else {
      pairs.push([null, other])
      j += 1
    }
  }
  return pairs
}

function near(one: Spell, other: Spell): boolean {
  const endOf = (spell: Spell): Ms => spell.cleared ?? Number.POSITIVE_INFINITY
  return one.raised <= endOf(other) + NEAR_MS && other.raised <= endOf(one) + NEAR_MS
}

/** The changes that fall into `from` ≤ raised < `to` on either side, ascending, and how many alarms are the same. */
export function compare(
  configured: readonly Said[],
  proposed: readonly Said[],
  from: Ms,
  to: Ms,
): { readonly changes: readonly AlarmChange[]; readonly same: number } {
  const within = (said: Said | null): boolean => said !== null && said.raised >= from && said.raised < to
  const changes: AlarmChange[] = []
  let same = 0
  for (const [ours, theirs] of pair(configured, proposed)) {
    if (!within(ours) && !within(theirs)) continue
    const change = changeOf(ours, theirs)
    if (change === null) same += 1
    else {
      const byMs = ours === null || theirs === null ? null : theirs.raised - ours.raised
      changes.push({ change, key: (ours ?? theirs)?.key ?? '', configured: ours, proposed: theirs, byMs })
    }
  }
  changes.sort((a, b) => firstRaise(a) - firstRaise(b) || byText(a.key, b.key))
  return { changes, same }
}

function changeOf(ours: Said | null, theirs: Said | null): ChangeKind | null {
  if (ours === null) return 'added'
  if (theirs === null) return 'gone'
  if (theirs.raised < ours.raised) return 'earlier'
  if (theirs.raised > ours.raised) return 'later'
  if (theirs.priority !== ours.priority) return 'priority'
  if (theirs.told !== ours.told) return theirs.told ? 'told' : 'grouped'
  return null
}

function firstRaise({ configured, proposed }: AlarmChange): Ms {
  return Math.min(configured?.raised ?? Number.POSITIVE_INFINITY, proposed?.raised ?? Number.POSITIVE_INFINITY)
}

function byRaised(a: Spell, b: Spell): number {
  return a.raised - b.raised
}

function byText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
