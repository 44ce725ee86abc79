/** How fills have changed: length, yield and energy per volume of each, over time, with the usual as a band. */
import type { QuantityKind } from '../../model/alarm.js'
import { toPeople } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import type { CycleBody } from '../bodies/history.js'
import type { UsualBody } from '../bodies/usual.js'
import { draw, el } from './dom.js'
import { duration, type People } from './people.js'

const BOX = { width: 340, height: 130, left: 46, right: 8, top: 10, bottom: 22 } as const

type Measure = {
  readonly title: string
  readonly kind: QuantityKind
  readonly usual: UsualBody['figures'][number]['id']
  readonly of: (cycle: CycleBody) => number | null
}

const MEASURES: readonly Measure[] = [
  { title: 'Length of a fill', kind: 'duration', usual: 'fill-time', of: (one) => one.duration_s },
  { title: 'Yield', kind: 'flow', usual: 'yield', of: (one) => one.flow_l_min },
  { title: 'Energy per volume', kind: 'energy-per-volume', usual: 'energy-per-litre', of: (one) => one.wh_per_l },
]

export type Dot = { readonly at: number; readonly value: number; readonly complete: boolean }

/** Fills of which the figure is known, in the order of time. */
export function dotsOf(cycles: readonly CycleBody[], of: Measure['of']): Dot[] {
  return cycles.flatMap((cycle) => {
    const value = of(cycle)
    return value === null ? [] : [{ at: Date.parse(cycle.start), value, complete: cycle.complete }]
  })
}

type Band = { readonly value: number; readonly sd: number | null }

/** The range of the drawing: complete fills and the usual, with room; a fill far outside stands at its edge. */
export function rangeOf(dots: readonly Dot[], band: Band | null): [number, number] {
  const complete = dots.filter((dot) => dot.complete)
  const values = (complete.length > 0 ? complete : dots).map(({ value }) => value)
  if (band !== null) values.push(band.value - 3 * (band.sd ?? 0), band.value + 3 * (band.sd ?? 0))
  const low = Math.min(...values)
  const high = Math.max(...values)
  const room = Math.max((high - low) * 0.15, Math.abs(high) * 0.03, 1e-6)
  return [low - room, high + room]
}

function say(kind: QuantityKind, value: number, people: People): string {
  return kind === 'duration' ? duration(value) : people.say(kind, value)
}

function axisWords(kind: QuantityKind, value: number, units: UnitSystem): string {
  return kind === 'duration' ? String(Math.round(value / 60)) : toPeople(kind, value, units).value.toFixed(2)
}

function dotMark(x: number, y: number, complete: boolean): SVGElement {
  return draw('circle', { cx: x, cy: y, r: complete ? 3 : 2.5, class: complete ? 'dot' : 'dot odd' })
}

function picture(
  measure: Measure,
  dots: readonly Dot[],
  band: Band | null,
  units: UnitSystem,
  people: People,
): HTMLElement {
  const [low, high] = rangeOf(dots, band)
  const first = dots[0]?.at ?? 0
  const last = dots.at(-1)?.at ?? 1
  const x = (t: number): number =>
    BOX.left + ((t - first) / Math.max(last - first, 1)) * (BOX.width - BOX.left - BOX.right - 8) + 4
  const y = (value: number): number => {
    const share = Math.min(Math.max((value - low) / (high - low), 0), 1)
    return BOX.height - BOX.bottom - share * (BOX.height - BOX.top - BOX.bottom)
  }
  const usual = band === null ? 'what is usual is not known yet' : `usual ${say(measure.kind, band.value, people)}`
  const newest = dots.at(-1)
  const latest = newest === undefined ? '' : `, the latest ${say(measure.kind, newest.value, people)}`
  const title = `${measure.title} of ${dots.length} fills since ${people.when(new Date(first).toISOString())}: ${usual}${latest}.`
  const drawing = draw(
    'svg',
    { viewBox: `0 0 ${BOX.width} ${BOX.height}`, role: 'img', class: 'trend' },
    draw('title', {}, title),
  )
  const right = BOX.width - BOX.right
  if (band !== null) {
    const top = y(band.value + 2 * (band.sd ?? 0))
    const height = Math.max(y(band.value - 2 * (band.sd ?? 0)) - top, 1)
    drawing.append(
      draw('rect', { x: BOX.left, y: top, width: right - BOX.left, height, class: 'usual-band' }),
      draw('line', { x1: BOX.left, y1: y(band.value), x2: right, y2: y(band.value), class: 'usual-line' }),
    )
  }
  drawing.append(draw('path', { d: `M${BOX.left} ${BOX.top}V${BOX.height - BOX.bottom}H${right}`, class: 'axis' }))
  for (const value of [low + (high - low) * 0.1, low + (high - low) * 0.9]) {
    const words = axisWords(measure.kind, value, units)
    drawing.append(draw('text', { x: BOX.left - 5, y: y(value) + 4, class: 'label', 'text-anchor': 'end' }, words))
  }
  for (const dot of dots) drawing.append(dotMark(x(dot.at), y(dot.value), dot.complete))
  const day = (t: number): string => people.when(new Date(t).toISOString())
  drawing.append(
    draw('text', { x: BOX.left, y: BOX.height - 6, class: 'label' }, day(first)),
    draw('text', { x: right, y: BOX.height - 6, class: 'label', 'text-anchor': 'end' }, day(last)),
  )
  const unit = measure.kind === 'duration' ? 'min' : toPeople(measure.kind, 0, units).unit
  return el('figure', {}, el('figcaption', {}, el('strong', {}, measure.title), `, ${unit}; ${usual}`), drawing)
}

/** Nothing before there are three fills to compare. */
export function trendPart(
  cycles: readonly CycleBody[],
  learned: UsualBody,
  units: UnitSystem,
  people: People,
): HTMLElement[] {
  const figures = MEASURES.flatMap((measure) => {
    const dots = dotsOf(cycles, measure.of)
    if (dots.length < 3) return []
    const found = learned.figures.find(({ id }) => id === measure.usual)
    return [picture(measure, dots, found === undefined ? null : { value: found.value, sd: found.sd }, units, people)]
  })
  if (figures.length === 0) return []
  const words = 'Full dots: complete fills. Open dots: not used for what is usual. Band: the usual, ± 2 sd.'
  return [el('div', { class: 'figures' }, ...figures), el('p', { class: 'quiet' }, words)]
}
