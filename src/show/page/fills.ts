/** The fills of the last weeks as a table, and the days beside them. */
import type { CycleBody, DayBody } from '../bodies/history.js'
import { el, table } from './dom.js'
import { endWords } from './glance.js'
import { duration, type People } from './people.js'

const SHOWN = 12

function fillRow(cycle: CycleBody, people: People): (Node | string)[] {
  const end = cycle.complete ? endWords(cycle.end_reason) : `${endWords(cycle.end_reason)}; not used for what is usual`
  return [
    people.when(cycle.start),
    duration(cycle.duration_s),
    people.sure('volume', cycle.volume_l, cycle.volume_sd_l),
    people.say('flow', cycle.flow_l_min),
    people.say('energy', cycle.energy_wh),
    people.say('energy-per-volume', cycle.wh_per_l),
    end,
  ]
}

/** Newest first. */
export function fillsPart(cycles: readonly CycleBody[], people: People): HTMLElement[] {
  if (cycles.length === 0) return [el('p', {}, 'No fill has been seen yet.')]
  const rows = cycles.slice(-SHOWN).toReversed()
  const head = ['Began', 'Ran', 'Water', 'Flow', 'Energy', 'Energy per volume', 'Ended because']
  const caption = `The last ${rows.length} fills, newest first`
  return [
    table(
      caption,
      head,
      rows.map((cycle) => fillRow(cycle, people)),
    ),
  ]
}

function dayRow(day: DayBody, people: People): (Node | string)[] {
  const covered = day.covered >= 0.995 ? 'whole day' : people.say('ratio', day.covered)
  return [
    day.date,
    people.sure('volume', day.used_l, day.used_sd_l),
    people.sure('volume', day.pumped_l, day.pumped_sd_l),
    String(day.fills),
    `${people.say('voltage', day.battery_min_v)} to ${people.say('voltage', day.battery_max_v)}`,
    `${people.say('temperature', day.air_min_c)} to ${people.say('temperature', day.air_max_c)}`,
    covered,
  ]
}

export function daysPart(days: readonly DayBody[], people: People): HTMLElement[] {
  if (days.length === 0) return []
  const head = ['Day', 'Used', 'Pumped', 'Fills', 'Battery', 'Air', 'With data']
  const rows = days.toReversed().map((day) => dayRow(day, people))
  return [el('details', {}, el('summary', {}, 'Day by day'), table('The last days, newest first', head, rows))]
}
