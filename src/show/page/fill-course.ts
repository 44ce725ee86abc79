/** One fill beside the ones before it: level and current by the minute since its start. Fetched when it is opened. */
import type { QuantityKind } from '../../model/alarm.js'
import { toPeople } from '../../model/format.js'
import { MINUTE } from '../../model/time.js'
import type { CycleBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { SeriesBody } from '../bodies/series.js'
import { draw, el, facts, table } from './dom.js'
import { endWords } from './glance.js'
import { read } from './net.js'
import { duration, NOT_KNOWN, type People } from './people.js'

const BESIDE = 4
const BEFORE_MS = 2 * MINUTE
const AFTER_MS = 6 * MINUTE
const POINTS = 120
const BOX = { width: 340, height: 170, left: 46, right: 8, top: 8, bottom: 24 } as const

export type Course = readonly { readonly minute: number; readonly value: number | null }[]

/** Minutes since the start of the fill; level as the rise since then, so that fills from another level compare. */
export function courseOf(rows: SeriesBody['rows'], start: number, rise: boolean): Course {
  const points = rows.map((row) => ({
    minute: ((Date.parse(row.t0) + Date.parse(row.t1)) / 2 - start) / MINUTE,
    value: row.mean,
  }))
  const base = rise
    ? (points.findLast(({ minute, value }) => minute <= 0 && value !== null)?.value ??
      points.find(({ value }) => value !== null)?.value ??
      0)
    : 0
  return points.map(({ minute, value }) => ({ minute, value: value === null ? null : value - base }))
}

/** What a course was at a minute: its nearest point within two. */
export function valueAt(course: Course, minute: number): number | null {
  let best: number | null = null
  let away = 2
  for (const point of course) {
    const far = Math.abs(point.minute - minute)
    if (far <= away && point.value !== null) {
      best = point.value
      away = far
    }
  }
  return best
}

/** The fills that it is compared with: complete ones before it, the nearest first. */
export function besideOf(cycles: readonly CycleBody[], chosen: CycleBody): CycleBody[] {
  return cycles
    .filter((one) => one.complete && one.start < chosen.start)
    .slice(-BESIDE)
    .toReversed()
}

type Measure = { readonly key: string; readonly title: string; readonly kind: QuantityKind; readonly rise: boolean }

const MEASURES: readonly Measure[] = [
  { key: 'tank-level', title: 'Rise of the level', kind: 'level', rise: true },
  { key: 'pump-current', title: 'Pump current', kind: 'current', rise: false },
]

async function courseFrom(cycle: CycleBody, measure: Measure): Promise<Course> {
  const start = Date.parse(cycle.start)
  const from = new Date(start - BEFORE_MS).toISOString()
  const to = new Date(Date.parse(cycle.end) + AFTER_MS).toISOString()
  const body = await read<SeriesBody>(`/api/series/${measure.key}`, `from=${from}&to=${to}&points=${POINTS}`)
  return courseOf(body.rows, start, measure.rise)
}

function path(course: Course, x: (minute: number) => number, y: (value: number) => number): string {
  let pen = 'M'
  let d = ''
  for (const { minute, value } of course) {
    if (value === null) {
      pen = 'M'
      continue
    }
    d += `${pen}${x(minute).toFixed(1)} ${y(value).toFixed(1)}`
    pen = 'L'
  }
  return d
}

function picture(measure: Measure, own: Course, others: readonly Course[], now: NowBody): SVGSVGElement {
  const all = [own, ...others].flat()
  const values = all.flatMap(({ value }) => (value === null ? [] : [value]))
  const low = Math.min(0, ...values)
  const high = Math.max(...values, low + 1e-6)
  const lastMinute = Math.max(...all.map(({ minute }) => minute), 1)
  const firstMinute = -BEFORE_MS / MINUTE
  const right = BOX.width - BOX.right
  const floor = BOX.height - BOX.bottom
  const x = (minute: number): number =>
    BOX.left + ((minute - firstMinute) / (lastMinute - firstMinute)) * (right - BOX.left)
  const y = (value: number): number => floor - ((value - low) / (high - low)) * (floor - BOX.top)
  const shown = (value: number): string => {
    const { units } = now.site
    return (toPeople(measure.kind, value, units).value - toPeople(measure.kind, 0, units).value).toFixed(1)
  }
  const beside = others.length === 0 ? 'alone' : `beside the ${others.length} complete fills before it`
  return draw(
    'svg',
    { viewBox: `0 0 ${BOX.width} ${BOX.height}`, role: 'img', class: 'trend' },
    draw('title', {}, `${measure.title} by the minute, ${beside}; the table below has the figures.`),
    ...others.map((course) => draw('path', { d: path(course, x, y), class: 'course other' })),
    draw('path', { d: path(own, x, y), class: 'course' }),
    draw('path', { d: `M${BOX.left} ${BOX.top}V${floor}H${right}`, class: 'axis' }),
    draw('text', { x: BOX.left - 5, y: BOX.top + 8, class: 'label', 'text-anchor': 'end' }, shown(high)),
    draw('text', { x: BOX.left - 5, y: floor, class: 'label', 'text-anchor': 'end' }, shown(low)),
    draw('text', { x: x(0), y: BOX.height - 7, class: 'label', 'text-anchor': 'middle' }, '0'),
    draw(
      'text',
      { x: right, y: BOX.height - 7, class: 'label', 'text-anchor': 'end' },
      `${Math.round(lastMinute)} min`,
    ),
  )
}

function middle(values: readonly (number | null)[]): number | null {
  const known = values.filter((value) => value !== null).toSorted((a, b) => a - b)
  return known[Math.floor(known.length / 2)] ?? null
}

function courseTable(measure: Measure, own: Course, others: readonly Course[], now: NowBody): HTMLElement {
  const { units } = now.site
  const { unit } = toPeople(measure.kind, 0, units)
  const words = (value: number | null): string => {
    if (value === null) return NOT_KNOWN
    const number = toPeople(measure.kind, value, units).value - toPeople(measure.kind, 0, units).value
    return `${number.toFixed(2)}\u00a0${unit}`
  }
  const last = Math.max(...own.map(({ minute }) => minute), 0)
  const step = last > 40 ? 10 : last > 15 ? 5 : 1
  const rows: string[][] = []
  for (let minute = 0; minute <= last; minute += step) {
    const usual = middle(others.map((course) => valueAt(course, minute)))
    rows.push([`${minute} min`, words(valueAt(own, minute)), words(usual)])
  }
  return el(
    'details',
    {},
    el('summary', {}, `${measure.title} as a table`),
    table(`${measure.title} since the start`, ['After', 'This fill', 'Middle of those before'], rows),
  )
}

function rowsOf(cycle: CycleBody, people: People): (readonly [string, string])[] {
  return [
    ['Began', people.when(cycle.start)],
    ['Ran', duration(cycle.duration_s)],
    ['Water', people.sure('volume', cycle.volume_l, cycle.volume_sd_l)],
    ['Yield', people.sure('flow', cycle.flow_l_min, cycle.flow_sd_l_min)],
    ['Energy', people.say('energy', cycle.energy_wh)],
    ['Energy per volume', people.say('energy-per-volume', cycle.wh_per_l)],
    ['Current', people.say('current', cycle.current_mean_a)],
    ['Voltage', `${people.say('voltage', cycle.voltage_mean_v)}, lowest ${people.say('voltage', cycle.voltage_min_v)}`],
    ['Level', `${people.say('level', cycle.level_start_m)} to ${people.say('level', cycle.level_end_m)}`],
    ['Water came after', cycle.first_rise_s === null ? NOT_KNOWN : duration(cycle.first_rise_s)],
    ['Ended because', endWords(cycle.end_reason)],
  ]
}

/** The fill with its figures, its courses and the tables behind them. */
export async function fillCourse(
  chosen: CycleBody,
  cycles: readonly CycleBody[],
  now: NowBody,
  people: People,
): Promise<HTMLElement> {
  const beside = besideOf(cycles, chosen)
  const measured = MEASURES.filter(({ key }) => now.latest.some((one) => one.key === key))
  const figures = await Promise.all(
    measured.map(async (measure) => {
      const [own = [], ...others] = await Promise.all([chosen, ...beside].map((one) => courseFrom(one, measure)))
      const { unit } = toPeople(measure.kind, 0, now.site.units)
      return el(
        'figure',
        {},
        el('figcaption', {}, el('strong', {}, measure.title), `, ${unit}`),
        picture(measure, own, others, now),
        courseTable(measure, own, others, now),
      )
    }),
  )
  const words =
    beside.length === 0
      ? 'No complete fill before it is there to compare with.'
      : `Thick: this fill. Thin: the ${beside.length} complete fills before it.`
  return el(
    'div',
    {},
    facts(rowsOf(chosen, people)),
    el('div', { class: 'figures' }, ...figures),
    el('p', { class: 'quiet' }, words),
  )
}
