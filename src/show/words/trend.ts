/** The trend in sentences: how yield and energy stand against their baseline, a step that stayed, the check valve. */
import type { CheckValveFacts, DriftFacts, StepSuggestion, TrendFacts, UsualId } from '../../model/facts-trend.js'
import { formatLocalDateTime, formatQuantity } from '../../model/format.js'
import type { SiteSettings } from '../../model/settings.js'
import type { Ms } from '../../model/time.js'
import { duration } from './quantity.js'

export const FIGURE_NAMES: Readonly<Record<UsualId, string>> = {
  'running-current': 'Pump current while it runs',
  'running-power': 'Pump power while it runs',
  'reference-voltage': 'Voltage while it runs (the reference)',
  'current-zero': 'Zero of the current sensor',
  'fill-volume': 'Water in a fill',
  'fill-time': 'Length of a fill',
  yield: 'Yield, at the reference voltage',
  'yield-per-volt': 'Yield for each volt',
  'energy-per-litre': 'Energy for each volume',
  'start-level': 'Level at which it starts',
  'stop-level': 'Level at which it stops',
  'start-window': 'Time until its current is up',
}

const WHAT = { yield: 'Yield', energy: 'Energy for each volume' } as const
const KIND = { yield: 'flow', energy: 'energy-per-volume' } as const

/** "3 Feb 2026": a change is known to the day at best. */
function localDate(at: Ms, timezone: string): string {
  return formatLocalDateTime(at, timezone).replace(/ \d\d:\d\d$/, '')
}

function percent(share: number): string {
  return `${Math.round(Math.abs(share) * 100)} %`
}

/** How the quantity stands against its baseline; what cannot be told is said. */
export function driftSentence(of: 'yield' | 'energy', trend: TrendFacts, site: SiteSettings): string {
  const drift = trend[of]
  const least = trend.sight === 'quiet-fills' ? 12 : 8
  if (drift.direction === 'not-measured')
    return `${WHAT[of]}: not measured, there is no level, probe or meter to see it by.`
  if (drift.direction === 'learning' || drift.base === null) {
    return `${WHAT[of]}: still learning, ${drift.base?.fills ?? 0} of ${least} fit fills.`
  }
  const base = formatQuantity(KIND[of], drift.base.value, site.units)
  const slow = trend.sight === 'quiet-fills' ? ' With probes only, a change shows after 20 to 30 fills.' : ''
  if (drift.direction === 'steady' || drift.since === null) {
    return `${WHAT[of]}: steady at ${base} (the first ${drift.base.fills} fit fills).${lately(drift)}${slow}`
  }
  const now = formatQuantity(KIND[of], drift.now, site.units)
  const way = drift.direction === 'fallen' ? 'lower' : 'higher'
  return `${WHAT[of]}: ${percent(drift.share ?? 0)} ${way} since ${localDate(drift.since, site.timezone)}, ${now} where it was ${base}.`
}

function lately({ share, shareSd }: DriftFacts): string {
  if (share === null || shareSd === null) return ''
  const sign = share < 0 ? '−' : '+'
  return ` Lately ${sign}${(Math.abs(share) * 100).toFixed(1)} % ± ${(200 * shareSd).toFixed(1)} %.`
}

/** Asks for a word in the service log where a step has stayed. */
export function suggestionSentence({ of, since, share }: StepSuggestion, site: SiteSettings): string {
  const what = of === 'yield' ? 'the yield stands' : 'the energy for each volume stands'
  const way = share < 0 ? 'lower' : 'higher'
  return `Since ${localDate(since, site.timezone)} ${what} ${percent(share)} ${way} and steady; if you changed something, say so in the service log and learn anew from there.`
}

/** The check valve, as a line of a report; "not measured" where samples cannot see it. */
export function checkValveSentence(valve: CheckValveFacts, site: SiteSettings): string {
  if (valve.verdict === 'not-measured') {
    return 'Check valve: not measured. Neither current nor level shows when water begins to come.'
  }
  if (valve.verdict === 'learning' || valve.usual === null) {
    return `Check valve: still learning how long water takes to come, ${valve.usual?.fills ?? 0} of 8 starts.`
  }
  const usual = delay(valve.usual.value, valve)
  const recent = delay(valve.recentS ?? valve.usual.value, valve)
  const by = valve.witness === 'current' ? 'by the current, which climbs as the pipe fills' : 'by the level'
  const growth =
    valve.growthSPerH === null
      ? ''
      : ` It grows by ${duration(valve.growthSPerH.value)} (± ${Math.round(2 * valve.growthSPerH.sd)} s) for each hour of rest.`
  if (valve.verdict === 'as-usual') {
    return `Check valve: as usual. Water comes after ${recent} (usually ${usual}), ${by}.${growth}`
  }
  const since = valve.since === null ? '' : ` since ${localDate(valve.since, site.timezone)}`
  return `Check valve: it takes longer before water arrives${since}: ${recent}, usually ${usual}, ${by}.${growth} The pipe drains between fills: a leaking check valve, or a joint or hole in the drop pipe.`
}

/** Below the time between two samples nothing can be told apart. */
function delay(seconds: number, { resolutionS, witness }: CheckValveFacts): string {
  return witness === 'current' && seconds <= resolutionS
    ? `less than ${duration(Math.max(1, resolutionS))}`
    : duration(seconds)
}
