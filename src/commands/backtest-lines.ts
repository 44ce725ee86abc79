/** A backtest as a table for people, in each site's own time, and as the record that `--json` prints. */
import type { AlarmChange, ChangeKind, Said } from '../daemon/backtest-compare.js'
import type { SiteBacktest, StoredAlarm } from '../daemon/backtest.js'
import { formatDuration, formatLocalDateTime } from '../model/format.js'
import type { SiteSettings } from '../model/settings.js'
import type { Ms } from '../model/time.js'
import { isoTime } from '../show/files/csv.js'

const WORDS: Record<ChangeKind, string> = {
  added: 'added',
  gone: 'gone',
  earlier: 'earlier',
  later: 'later',
  priority: 'priority',
  told: 'now told',
  grouped: 'not told',
}

/** What history does not keep, and so no backtest can show. */
export const NOT_IN_HISTORY = [
  'store-failing, telling-failing and clock-suspect rest on what the daemon knew of itself, which is not kept: left out',
  'samples keep their own times, not when they came in: a silence whose samples came later is no silence here',
  'people are left out: absences, winter and maintenance switched by hand, acknowledged and shelved alarms',
] as const

export function backtestLines(site: SiteSettings, found: SiteBacktest): readonly string[] {
  const time = (at: Ms): string => formatLocalDateTime(at, site.timezone)
  const { alarms, messages, samples, stored } = found
  const lines = [
    `${site.id}: ${time(found.from)} to ${time(found.to)}, ${samples.configured} samples since ${time(found.learnedFrom)}`,
    `as configured ${count(alarms.configured, 'alarm')}, ${count(messages.configured, 'message')}; as proposed ${count(alarms.proposed, 'alarm')}, ${count(messages.proposed, 'message')}; ${alarms.same} the same`,
  ]
  if (found.changes.length > 0) lines.push('', ...table(found.changes.map((change) => cells(change, time))), '')
  lines.push(
    `at the time ${count(stored.alarms, 'alarm')} raised; as configured, ${stored.again} of them again${again(found)}`,
  )
  for (const one of stored.onlyStored) lines.push(`  only at the time: ${row(one, time)}`)
  for (const one of stored.onlyAgain) lines.push(`  only now:         ${row(one, time)}`)
  if (found.signalsUnknown.length > 0) {
    lines.push(`nothing is stored of ${found.signalsUnknown.join(', ')}: what rests on it cannot be tried`)
  }
  if (found.boardsDiffer) {
    lines.push('boards are read in another way: stored samples stay as they were read, only what follows is tried')
  }
  return lines
}

function again({ stored }: SiteBacktest): string {
  return stored.onlyStored.length + stored.onlyAgain.length === 0 ? '' : ' (why not all: below)'
}

function count(n: number, noun: string): string {
  return `${n} ${noun}${n === 1 ? '' : 's'}`
}

function row({ key, priority, raised }: StoredAlarm, time: (at: Ms) => string): string {
  return `${time(raised)}  ${key}  ${priority}`
}

const HEAD = ['change', 'alarm', 'priority', 'as configured', 'as proposed', 'by', 'at the time'] as const

function cells(
  { change, key, configured, proposed, byMs, stored }: SiteBacktest['changes'][number],
  time: (at: Ms) => string,
): readonly string[] {
  const when = (said: { readonly raised: Ms } | null): string => (said === null ? '-' : time(said.raised))
  const moved = byMs === null || byMs === 0 ? '' : formatDuration(Math.abs(byMs))
  return [WORDS[change], key, priority(configured, proposed), when(configured), when(proposed), moved, when(stored)]
}

function priority(configured: Said | null, proposed: Said | null): string {
  const [before, after] = [configured?.priority, proposed?.priority]
  if (before === undefined || after === undefined || before === after) return before ?? after ?? ''
  return `${before} > ${after}`
}

function table(rows: readonly (readonly string[])[]): readonly string[] {
  const all = [HEAD, ...rows]
  const widths = HEAD.map((_, i) => Math.max(...all.map((one) => one[i]?.length ?? 0)))
  return all.map((one) =>
    one
      .map((cell, i) => cell.padEnd(widths[i] ?? 0))
      .join('  ')
      .trimEnd(),
  )
}

/** Times as ISO 8601, spans in seconds. */
export function backtestRecord(found: SiteBacktest) {
  return {
    ...found,
    from: isoTime(found.from),
    to: isoTime(found.to),
    learnedFrom: isoTime(found.learnedFrom),
    changes: found.changes.map(({ byMs, configured, proposed, stored, ...rest }: SiteBacktest['changes'][number]) => ({
      ...rest,
      byS: byMs === null ? null : byMs / 1_000,
      configured: saidRecord(configured),
      proposed: saidRecord(proposed),
      stored: stored === null ? null : storedRecord(stored),
    })),
    stored: {
      ...found.stored,
      onlyStored: found.stored.onlyStored.map(storedRecord),
      onlyAgain: found.stored.onlyAgain.map(storedRecord),
    },
  }
}

function saidRecord(said: AlarmChange['configured']) {
  if (said === null) return null
  return { ...said, since: isoTime(said.since), raised: isoTime(said.raised), cleared: isoTime(said.cleared) }
}

function storedRecord(stored: StoredAlarm) {
  return { ...stored, raised: isoTime(stored.raised), cleared: isoTime(stored.cleared) }
}
