/** The fills of the last weeks as a table, and the days beside them. */
import type { CycleBody, DayBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { UsualBody } from '../bodies/usual.js'
import { el, table } from './dom.js'
import { trendPart } from './fill-trend.js'
import { endWords } from './glance.js'
import { duration, type People } from './people.js'

const SHOWN = 12

function fillRow(cycle: CycleBody, people: People, open: (cycle: CycleBody) => void): (Node | string)[] {
  const end = cycle.complete ? endWords(cycle.end_reason) : `${endWords(cycle.end_reason)}; not used for what is usual`
  const began = people.when(cycle.start)
  const look = el('button', { type: 'button', class: 'link', 'aria-label': `Open the fill of ${began}` }, began)
  look.addEventListener('click', () => open(cycle))
  return [
    look,
    duration(cycle.duration_s),
    people.sure('volume', cycle.volume_l, cycle.volume_sd_l),
    people.say('flow', cycle.flow_l_min),
    people.say('energy', cycle.energy_wh),
    people.say('energy-per-volume', cycle.wh_per_l),
    end,
  ]
}

/** The place beneath the table where one fill is opened. Its code and its data are fetched then. */
function courseHolder(cycles: readonly CycleBody[], now: NowBody, people: People) {
  const holder = el('div', { id: 'one-fill', tabindex: -1, role: 'region', 'aria-label': 'One fill' })
  holder.hidden = true
  async function open(cycle: CycleBody): Promise<void> {
    holder.hidden = false
    holder.replaceChildren(el('p', {}, 'Fetching the course of this fill …'))
    try {
      const { fillCourse } = await import('./fill-course.js')
      const shut = el('button', { type: 'button' }, 'Shut this fill')
      shut.addEventListener('click', () => {
        holder.hidden = true
        holder.replaceChildren()
      })
      const title = el('h3', {}, `The fill of ${people.when(cycle.start)}`)
      holder.replaceChildren(title, await fillCourse(cycle, cycles, now, people), shut)
      holder.focus()
    } catch (error) {
      const words = error instanceof Error ? error.message : ''
      holder.replaceChildren(el('p', { class: 'caution' }, `The course could not be fetched. ${words}`))
    }
  }
  return { holder, open }
}

/** Newest first, the latest as rows and all of them in the picture. */
export function fillsPart(
  cycles: readonly CycleBody[],
  learned: UsualBody,
  now: NowBody,
  people: People,
): HTMLElement[] {
  if (cycles.length === 0) return [el('p', {}, 'No fill has been seen yet.')]
  const rows = cycles.slice(-SHOWN).toReversed()
  const head = ['Began', 'Ran', 'Water', 'Flow', 'Energy', 'Energy per volume', 'Ended because']
  const caption = `The last ${rows.length} fills, newest first`
  const { holder, open } = courseHolder(cycles, now, people)
  return [
    ...trendPart(cycles, learned, now.site.units, people),
    table(
      caption,
      head,
      rows.map((cycle) => fillRow(cycle, people, (one) => void open(one))),
    ),
    holder,
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
