/** A straight rule with marks and one pointer: how far a value is along a range that has meaning. */
import { draw } from './dom.js'

const WIDTH = 360
const EDGE = 8
const LINE_Y = 30

export type RulerMark = { readonly at: number; readonly words: string }

export type Ruler = {
  /** Read out in place of the drawing. */
  readonly title: string
  readonly from: number
  readonly to: number
  readonly value: number
  readonly valueWords: string
  readonly marks: readonly RulerMark[]
}

function anchorAt(x: number): string {
  return x < 60 ? 'start' : x > WIDTH - 60 ? 'end' : 'middle'
}

export function ruler(what: Ruler): SVGSVGElement {
  const span = Math.max(what.to - what.from, Number.EPSILON)
  const place = (value: number): number =>
    EDGE + Math.min(Math.max((value - what.from) / span, 0), 1) * (WIDTH - 2 * EDGE)
  const x = place(what.value)
  const drawing = draw(
    'svg',
    { viewBox: `0 0 ${WIDTH} 58`, role: 'img', class: 'ruler' },
    draw('title', {}, what.title),
    draw('line', { x1: EDGE, y1: LINE_Y, x2: WIDTH - EDGE, y2: LINE_Y, class: 'rule' }),
    draw('line', { x1: EDGE, y1: LINE_Y, x2: x, y2: LINE_Y, class: 'reach' }),
    draw('path', { d: `M${x} ${LINE_Y - 3}l-5 -9h10z`, class: 'pointer' }),
    draw('text', { x, y: 13, class: 'strong', 'text-anchor': anchorAt(x) }, what.valueWords),
  )
  for (const mark of what.marks) {
    const at = place(mark.at)
    drawing.append(
      draw('line', { x1: at, y1: LINE_Y - 5, x2: at, y2: LINE_Y + 7, class: 'tick' }),
      draw('text', { x: at, y: LINE_Y + 22, class: 'label', 'text-anchor': anchorAt(at) }, mark.words),
    )
  }
  return drawing
}
