/**
 * The one sentence that the page begins with: is it all right? Never "all well" where it is not known: silence of the
 * boards, or water that nobody measures, is said before anything good is.
 */
import { type Alarm, PRIORITIES } from '../../model/alarm.js'
import type { Facts } from '../../model/facts.js'
import { formatAboutHours } from '../../model/format.js'
import type { Modes } from '../../model/modes.js'
import type { SiteSettings } from '../../model/settings.js'
import { MINUTE, type Ms } from '../../model/time.js'
import { duration, quantity } from './quantity.js'
import { moment } from './when.js'

export type Answer = {
  readonly verdict: 'well' | 'look' | 'act' | 'not-known'
  readonly sentence: string
  readonly detail: string
}

/** Data older than this say nothing about now; the same span as the alarm `site-silent` begins with. */
const STALE_MS = 15 * MINUTE

/** Alarms that a person should still see: not cleared, not put aside, not the consequence of another. */
export function openAlarms(alarms: readonly Alarm[]): Alarm[] {
  return alarms
    .filter((one) => one.cleared === null && one.explainedBy === null)
    .filter((one) => one.state !== 'shelved' && one.state !== 'suppressed' && one.state !== 'out-of-service')
    .toSorted((a, b) => PRIORITIES.indexOf(a.priority) - PRIORITIES.indexOf(b.priority) || b.raised - a.raised)
}

function waterPart(facts: Facts, site: SiteSettings): string {
  const { water } = facts
  if (water.volumeL === null) {
    if (water.lowWet === null && water.highWet === null) return 'The water in the tank is not known.'
    if (water.lowWet === false) return 'The water stands below the low mark.'
    if (water.highWet === true) return 'The water stands at the high mark.'
    return 'The water stands between the low and the high mark.'
  }
  const volume = quantity('volume', water.volumeL, site.units)
  const left = water.hoursLeft === null ? '' : `, ${formatAboutHours(water.hoursLeft)} of usual use`
  return `${water.reckoned ? 'By reckoning ' : ''}${volume} in the tank${left}.`
}

function pumpPart(facts: Facts): string {
  const { pump } = facts
  if (!pump.known) return 'Whether the pump runs is not known.'
  if (!pump.running) return 'The pump rests.'
  return `The pump has been running for ${duration(pump.ranS)}.`
}

function batteryPart(facts: Facts): string {
  const { battery } = facts
  if (battery.voltageV === null) return 'The battery is not known.'
  return `The battery stands at ${quantity('voltage', battery.voltageV, 'si')}${battery.loaded ? ' under load' : ''}.`
}

function modePart(modes: Modes, now: Ms, site: SiteSettings): string {
  if (modes.maintenanceUntil !== null && modes.maintenanceUntil > now) {
    return ` Maintenance until ${moment(modes.maintenanceUntil, now, site.timezone)}: messages are held back.`
  }
  return modes.winterized ? ' The place is winterized.' : ''
}

/** What the facts of the last look say about water, pump and battery, one short sentence each. */
function detailOf(facts: Facts, modes: Modes, now: Ms, site: SiteSettings): string {
  return `${waterPart(facts, site)} ${pumpPart(facts)} ${batteryPart(facts)}${modePart(modes, now, site)}`
}

/** What keeps a clear conscience from saying that all is well. */
function gapsOf(facts: Facts, site: SiteSettings): string[] {
  const gaps: string[] = []
  const silent = site.boards.filter(({ id }) => !facts.boards.some((one) => one.id === id && one.lastHeard !== null))
  for (const board of silent) gaps.push(`${board.id} has never been heard`)
  if (!facts.pump.known) gaps.push('the pump is not known')
  if (facts.battery.voltageV === null) gaps.push('the battery is not known')
  return gaps
}

/** The answer for one site at the daemon's wall clock `now`. */
export function answer(
  site: SiteSettings,
  facts: Facts | null,
  modes: Modes,
  alarms: readonly Alarm[],
  now: Ms,
): Answer {
  const name = site.name === '' ? site.id : site.name
  if (facts === null || facts.lastHeard === null) {
    return { verdict: 'not-known', sentence: `Nothing has been heard from ${name} yet.`, detail: '' }
  }
  const detail = detailOf(facts, modes, now, site)
  const open = openAlarms(alarms)
  const first = open[0]
  const age = now - facts.lastHeard
  if (first !== undefined) {
    const urgent = first.priority === 'critical' || first.priority === 'high'
    const others = open.length - 1
    const more = others === 0 ? '' : others === 1 ? ' One more thing to look at.' : ` ${others} more things to look at.`
    const title = first.words.title.replace(/[.\s]+$/, '')
    const since = `since ${moment(first.since, now, site.timezone)}`
    return { verdict: urgent ? 'act' : 'look', sentence: `${title}, ${since}.${more}`, detail: stale(age, detail) }
  }
  if (age > STALE_MS) {
    const sentence = `How ${name} is now is not known: last heard ${duration(age / 1000)} ago.`
    return { verdict: 'not-known', sentence, detail: `Then: ${detail}` }
  }
  const blind = facts.water.volumeL === null && facts.water.lowWet === null && facts.water.highWet === null
  if (blind) return { verdict: 'not-known', sentence: `The water at ${name} is not known.`, detail }
  const gaps = gapsOf(facts, site)
  if (gaps.length > 0) {
    const sentence = `Nothing is wrong at ${name} that can be seen, but not all can be: ${gaps.join(', ')}.`
    return { verdict: 'look', sentence, detail }
  }
  return { verdict: 'well', sentence: `All is well at ${name}.`, detail }
}

function stale(ageMs: number, detail: string): string {
  return ageMs > STALE_MS ? `Last heard ${duration(ageMs / 1000)} ago. Then: ${detail}` : detail
}
