/** The last day as curves: level, pump current, voltage. Gaps stay gaps; a table stands behind each curve. */
import uPlot from 'uplot'
import type { QuantityKind } from '../../model/alarm.js'
import { formatLocalClock, toPeople } from '../../model/format.js'
import type { NowBody } from '../bodies/now.js'
import type { SeriesBody } from '../bodies/series.js'
import { moment } from '../words/when.js'
import { type Columns, columns, hourly } from './chart-data.js'
import { el, table } from './dom.js'
import type { Reader } from './net.js'
import { NOT_KNOWN, peopleOf } from './people.js'

const HEIGHT = 170
/** One bucket for each 6 minutes: as fine as a phone can show, and small to fetch. */
const POINTS = 240

type Curve = { readonly key: string; readonly kind: QuantityKind; readonly title: string }

/** The curves that this site has signals for. */
export function curvesOf(now: NowBody): Curve[] {
  const has = (key: string): boolean => now.latest.some((one) => one.key === key)
  const voltage = has('battery-voltage') ? 'battery-voltage' : 'pump-voltage'
  const wanted: Curve[] = [
    { key: 'tank-level', kind: 'level', title: 'Level of the tank' },
    { key: 'pump-current', kind: 'current', title: 'Pump current' },
    { key: voltage, kind: 'voltage', title: voltage === 'battery-voltage' ? 'Battery voltage' : 'Pump voltage' },
  ]
  return wanted.filter((curve) => has(curve.key))
}

function ink(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim()
}

function axes(zone: string, unit: string): uPlot.Axis[] {
  const common = {
    stroke: () => ink('--soft'),
    grid: { stroke: () => ink('--hair'), width: 1 },
    ticks: { stroke: () => ink('--hair'), width: 1, size: 4 },
    font: '12px system-ui, sans-serif',
  }
  return [
    {
      ...common,
      size: 30,
      space: 56,
      values: (_plot, seconds) => seconds.map((s) => formatLocalClock(s * 1000, zone)),
    },
    { ...common, size: 52, label: unit, labelSize: 16, labelFont: '12px system-ui, sans-serif' },
  ]
}

function options(width: number, zone: string, unit: string, hover: (index: number | null) => void): uPlot.Options {
  return {
    width,
    height: HEIGHT,
    legend: { show: false },
    cursor: { drag: { x: false, y: false }, points: { show: false } },
    tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), zone),
    axes: axes(zone, unit),
    series: [
      {},
      { stroke: 'transparent', points: { show: false } },
      { stroke: 'transparent', points: { show: false } },
      { stroke: () => ink('--curve'), width: 1.75, points: { show: false } },
    ],
    bands: [{ series: [2, 1], fill: () => ink('--band') }],
    hooks: { setCursor: [(plot) => hover(plot.cursor.idx ?? null)] },
  }
}

function readout(data: Columns, index: number | null, unit: string, now: NowBody): string {
  const at = index === null ? undefined : data[0][index]
  if (index === null || at === undefined) return ''
  const digits = (value: number | null | undefined): string => (value == null ? NOT_KNOWN : value.toFixed(2))
  const mean = data[3][index]
  const when = moment(at * 1000, Date.parse(now.at), now.site.timezone)
  if (mean == null) return `${when}: ${NOT_KNOWN}, nothing was heard`
  return `${when}: ${digits(mean)} ${unit} (${digits(data[1][index])} to ${digits(data[2][index])})`
}

function figure(curve: Curve, body: SeriesBody, now: NowBody): { element: HTMLElement; mount: () => () => void } {
  const { units, timezone } = now.site
  const data = columns(body.rows, curve.kind, units)
  const { unit } = toPeople(curve.kind, 0, units)
  const said = el('p', { class: 'quiet readout' }, '\u00a0')
  const place = el('div', { class: 'curve', 'aria-hidden': true })
  const latest = now.latest.find((one) => one.key === curve.key)
  const people = peopleOf(now)
  const heard = latest?.at ?? null
  const value = heard === null ? NOT_KNOWN : `${people.say(curve.kind, latest?.value ?? null)} at ${people.when(heard)}`
  const details = el('details', {}, el('summary', {}, `${curve.title} as a table`))
  details.addEventListener('toggle', () => {
    if (!details.open || details.children.length > 1) return
    const caption = `${curve.title}, hour by hour, newest first`
    details.append(
      table(caption, ['Hour from', 'Lowest', 'Mean', 'Highest'], hourly(body.rows, curve.kind, units, timezone)),
    )
  })
  const empty = body.rows.every((row) => row.n === 0)
  const element = el(
    'figure',
    {},
    el('figcaption', {}, el('strong', {}, curve.title), ` ${value}`),
    empty ? el('p', {}, 'Nothing was heard in the last 24 hours.') : place,
    said,
    details,
  )
  return {
    element,
    mount() {
      if (empty) return () => undefined
      const hover = (index: number | null): void => {
        said.textContent = readout(data, index, unit, now) || '\u00a0'
      }
      const plot = new uPlot(options(Math.max(place.clientWidth, 200), timezone, unit, hover), data, place)
      const watch = new ResizeObserver(() => plot.setSize({ width: Math.max(place.clientWidth, 200), height: HEIGHT }))
      watch.observe(place)
      const scheme = matchMedia('(prefers-color-scheme: dark)')
      const repaint = (): void => plot.redraw()
      scheme.addEventListener('change', repaint)
      return () => {
        watch.disconnect()
        scheme.removeEventListener('change', repaint)
        plot.destroy()
      }
    },
  }
}

export type Charts = { readonly element: HTMLElement; readonly show: (now: NowBody, read: Reader) => Promise<void> }

/** The section of curves; `show` asks for the day anew and draws it, leaving open tables open. */
export function createCharts(): Charts {
  const body = el('div', { class: 'figures' })
  const element = el(
    'section',
    { id: 'day', 'aria-labelledby': 'day-title' },
    el('h2', { id: 'day-title' }, 'The last day'),
    body,
  )
  let unmount: (() => void)[] = []
  return {
    element,
    async show(now, read) {
      const curves = curvesOf(now)
      const bodies = await Promise.all(
        curves.map((curve) => read<SeriesBody>(`/api/series/${encodeURIComponent(curve.key)}`, `points=${POINTS}`)),
      )
      if (body.querySelector('details[open]') !== null || body.contains(document.activeElement)) return
      for (const end of unmount) end()
      const figures = curves.flatMap((curve, index) => {
        const found = bodies[index]
        return found === undefined ? [] : [figure(curve, found, now)]
      })
      const noLevel = curves.some((curve) => curve.key === 'tank-level')
        ? []
        : [
            el(
              'p',
              { class: 'quiet' },
              'No curve of the level: the probes tell only whether water stands at their marks.',
            ),
          ]
      body.replaceChildren(...noLevel, ...figures.map((one) => one.element))
      unmount = figures.map((one) => one.mount())
    },
  }
}
