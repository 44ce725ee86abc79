/** One curve on a canvas, with what happened marked along its time axis. Fetched after the page stands. */
import uPlot from 'uplot'
import type { Columns } from './chart-data.js'
import type { Mark } from './marks.js'
import { axisWords, type Span } from './span.js'

const HEIGHT = 180
const WIDTH_LEAST = 200
/** Room above the curve for the heads of the marks. */
const HEAD = 14

export type Plot = {
  /** Moves the line of the reading to an instant; null takes it away. */
  readonly readAt: (t: number | null) => void
  readonly end: () => void
}

export type PlotOptions = {
  readonly place: HTMLElement
  readonly data: Columns
  readonly span: Span
  readonly unit: string
  readonly zone: string
  readonly marks: readonly Mark[]
  /** The pointer moves over the curve. */
  readonly onRead: (t: number) => void
}

function ink(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim()
}

function axes(zone: string, unit: string): uPlot.Axis[] {
  const font = '12px system-ui, sans-serif'
  const common = {
    stroke: () => ink('--soft'),
    grid: { stroke: () => ink('--hair'), width: 1 },
    ticks: { stroke: () => ink('--hair'), width: 1, size: 4 },
    font,
  }
  return [
    {
      ...common,
      size: 30,
      space: 64,
      values: (_plot, seconds, _axis, _space, step) => seconds.map((s) => axisWords(s * 1000, step * 1000, zone)),
    },
    { ...common, size: 52, label: unit, labelSize: 16, labelFont: font },
  ]
}

function drawFill(plot: uPlot, left: number, right: number): void {
  const { ctx, bbox } = plot
  ctx.fillStyle = ink('--fill-mark')
  ctx.fillRect(left, bbox.top, Math.max(right - left, 1.5 * devicePixelRatio), bbox.height)
}

/** A head with a stem: a triangle for an alarm, a square for an entry. */
function drawHead(plot: uPlot, x: number, kind: 'alarm' | 'entry'): void {
  const { ctx, bbox } = plot
  const size = 4 * devicePixelRatio
  const top = bbox.top - 2 * devicePixelRatio
  ctx.strokeStyle = ctx.fillStyle = ink(kind === 'alarm' ? '--trouble' : '--soft')
  ctx.lineWidth = devicePixelRatio
  ctx.setLineDash(kind === 'alarm' ? [] : [3 * devicePixelRatio, 3 * devicePixelRatio])
  ctx.beginPath()
  ctx.moveTo(x, top)
  ctx.lineTo(x, bbox.top + bbox.height)
  ctx.stroke()
  ctx.setLineDash([])
  ctx.beginPath()
  if (kind === 'entry') ctx.rect(x - size, top - 2 * size, 2 * size, 2 * size)
  else {
    ctx.moveTo(x - 1.2 * size, top - 2 * size)
    ctx.lineTo(x + 1.2 * size, top - 2 * size)
    ctx.lineTo(x, top)
  }
  ctx.fill()
}

function drawMarks(plot: uPlot, marks: readonly Mark[], span: Span, which: 'under' | 'over'): void {
  const x = (t: number): number => plot.valToPos(Math.min(Math.max(t, span.from), span.to) / 1000, 'x', true)
  plot.ctx.save()
  for (const mark of marks) {
    if ((mark.to ?? span.to) < span.from || mark.from > span.to) continue
    if (mark.kind === 'fill' && which === 'under') drawFill(plot, x(mark.from), x(mark.to ?? span.to))
    if (mark.kind !== 'fill' && which === 'over' && mark.from >= span.from) drawHead(plot, x(mark.from), mark.kind)
  }
  plot.ctx.restore()
}

function optionsOf(asked: PlotOptions, width: number, quiet: () => boolean): uPlot.Options {
  const { zone, unit, marks, span, onRead } = asked
  return {
    width,
    height: HEIGHT,
    padding: [HEAD, 8, 0, 0],
    legend: { show: false },
    cursor: { drag: { x: false, y: false }, points: { show: false }, y: false },
    tzDate: (seconds) => uPlot.tzDate(new Date(seconds * 1000), zone),
    scales: { x: { range: () => [span.from / 1000, span.to / 1000] } },
    axes: axes(zone, unit),
    series: [
      {},
      { stroke: 'transparent', points: { show: false } },
      { stroke: 'transparent', points: { show: false } },
      { stroke: () => ink('--curve'), width: 1.75, points: { show: false } },
    ],
    bands: [{ series: [2, 1], fill: () => ink('--band') }],
    hooks: {
      drawAxes: [(plot) => drawMarks(plot, marks, span, 'under')],
      draw: [(plot) => drawMarks(plot, marks, span, 'over')],
      setCursor: [
        (plot) => {
          const { left } = plot.cursor
          if (!quiet() && left != null && left >= 0) onRead(plot.posToVal(left, 'x') * 1000)
        },
      ],
    },
  }
}

export function mountPlot(asked: PlotOptions): Plot {
  const { place, data } = asked
  let quiet = false
  const width = (): number => Math.max(place.clientWidth, WIDTH_LEAST)
  const plot = new uPlot(
    optionsOf(asked, width(), () => quiet),
    data,
    place,
  )
  const watch = new ResizeObserver(() => plot.setSize({ width: width(), height: HEIGHT }))
  watch.observe(place)
  const scheme = matchMedia('(prefers-color-scheme: dark)')
  const repaint = (): void => plot.redraw()
  scheme.addEventListener('change', repaint)
  return {
    readAt(t) {
      quiet = true
      const left = t === null ? -10 : plot.valToPos(t / 1000, 'x')
      plot.setCursor({ left, top: 0 })
      quiet = false
    },
    end() {
      watch.disconnect()
      scheme.removeEventListener('change', repaint)
      plot.destroy()
    },
  }
}
