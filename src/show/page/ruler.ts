/** A straight rule with marks and one pointer: how far a value is along a range that has meaning. */
import { draw } from './dom.js'

const WIDTH = 360
const EDGE = 8
const LINE_Y = 30
const LABEL_WIDTH = 140
const ROW = 16

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
    { viewBox: `0 0 ${WIDTH} ${LINE_Y + 26 + (what.marks.length > 1 ? ROW : 0)}`, role: 'img', class: 'ruler' },
    draw('title', {}, what.title),
    draw('line', { x1: EDGE, y1: LINE_Y, x2: WIDTH - EDGE, y2: LINE_Y, class: 'rule' }),
    draw('line', { x1: EDGE, y1: LINE_Y, x2: x, y2: LINE_Y, class: 'reach' }),
    draw('path', { d: `M${x} ${LINE_Y - 3}l-5 -9h10z`, class: 'pointer' }),
    draw('text', { x, y: 13, class: 'strong', 'text-anchor': anchorAt(x) }, what.valueWords),
  )
  let reached = Number.NEGATIVE_INFINITY
  let row = 0
  for (const mark of what.marks.toSorted((a, b) => a.at - b.at)) {
    const at = place(mark.at)
    // Marks close together are labelled in two rows.
    row = at - reached < LABEL_WIDTH ? 1 - row : 0
    reached = at
    const y = LINE_Y + 20 + row * ROW
    drawing.append(
      draw('line', { x1: at, y1: LINE_Y - 5, x2: at, y2: y - 12, class: 'tick' }),
      draw('text', { x: at, y, class: 'label', 'text-anchor': anchorAt(at) }, mark.words),
    )
  }
  return drawing
}
