/** The section drawing: the tank to scale on its ground line, the pipe, the well and the pump in it. */
import type { NowBody } from '../bodies/now.js'
import { draw } from './dom.js'
import { duration, type People } from './people.js'
import { type Frame, type Mark, marksOf, type Surface, spread, surfaceOf, tankFrame, VIEW } from './section-geometry.js'

const WELL = { x: 30, halfWidth: 11, bottom: VIEW.height - 14 } as const
const MARK_WORDS: Record<Mark['kind'], string> = {
  full: 'overflow',
  high: 'high mark',
  low: 'low mark',
  reserve: 'reserve',
}

function line(x1: number, y1: number, x2: number, y2: number, name: string): SVGLineElement {
  return draw('line', { x1, y1, x2, y2, class: name })
}

function text(x: number, y: number, words: string, name = '', anchor = 'start'): SVGTextElement {
  return draw('text', { x, y, class: name, 'text-anchor': anchor }, words)
}

function ground(): SVGGElement {
  const strokes: SVGLineElement[] = []
  for (let x = 4; x < VIEW.width; x += 14) {
    if (Math.abs(x - WELL.x) > WELL.halfWidth + 8)
      strokes.push(line(x, VIEW.ground + 9, x + 8, VIEW.ground + 1, 'earth'))
  }
  return draw('g', {}, line(0, VIEW.ground, VIEW.width, VIEW.ground, 'ground'), ...strokes)
}

function outline(frame: Frame, round: boolean): SVGElement {
  const { x, width, top, bottom } = frame
  if (round) {
    const radius = (bottom - top) / 2
    return draw('circle', { cx: x + width / 2, cy: top + radius, r: radius, class: 'wall' })
  }
  return draw('path', { d: `M${x} ${top}V${bottom}H${x + width}V${top}`, class: 'wall' })
}

/** The inside of the tank as a clip, so that water in a lying cylinder keeps to its round. */
function inside(frame: Frame, round: boolean): SVGClipPathElement {
  const { x, width, top, bottom } = frame
  const radius = (bottom - top) / 2
  const shape = round
    ? draw('circle', { cx: x + width / 2, cy: top + radius, r: radius })
    : draw('rect', { x, y: top, width, height: bottom - top })
  return draw('clipPath', { id: 'inside' }, shape)
}

function hatch(): SVGPatternElement {
  return draw(
    'pattern',
    { id: 'hatch', width: 8, height: 8, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)' },
    draw('rect', { width: 8, height: 8, class: 'maybe' }),
    line(0, 0, 0, 8, 'maybe-line'),
  )
}

function water(frame: Frame, surface: Surface): SVGGElement {
  const { x, width, bottom } = frame
  const body = draw('g', { 'clip-path': 'url(#inside)' })
  if (surface.kind === 'unknown') return body
  const sureY = frame.y(surface.kind === 'measured' ? surface.levelM : surface.fromM)
  body.append(draw('rect', { x, y: sureY, width, height: bottom - sureY, class: 'water' }))
  if (surface.kind === 'between') {
    const maybeY = frame.y(surface.toM)
    body.append(draw('rect', { x, y: maybeY, width, height: sureY - maybeY, fill: 'url(#hatch)' }))
    return body
  }
  // Two short strokes under the line: the sign for a free water surface in section drawings.
  const middle = x + width / 2
  body.append(
    line(x, sureY, x + width, sureY, 'surface'),
    line(middle - 9, sureY + 5, middle + 9, sureY + 5, 'surface-sign'),
    line(middle - 5, sureY + 9, middle + 5, sureY + 9, 'surface-sign'),
  )
  return body
}

function marks(tank: NonNullable<NowBody['tank']>, now: NowBody, frame: Frame, people: People): SVGGElement {
  const list = marksOf(tank)
  const right = frame.x + frame.width
  const ys = spread(
    list.map((mark) => frame.y(mark.levelM)),
    VIEW.ground - 6,
  )
  const group = draw('g')
  list.forEach((mark, index) => {
    const at = frame.y(mark.levelM)
    const labelY = ys[index] ?? at
    const wet = { full: now.water?.full_wet, high: now.water?.high_wet, low: now.water?.low_wet, reserve: null }[
      mark.kind
    ]
    const level = mark.kind === 'reserve' ? people.say('volume', tank.reserve_l) : people.say('level', mark.levelM)
    const words = `${MARK_WORDS[mark.kind]} ${level}`
    group.append(
      line(frame.x + frame.width - 12, at, right + 4, at, `mark ${mark.kind}`),
      draw('path', { d: `M${right + 4} ${at}L${right + 14} ${labelY}`, class: 'leader' }),
      text(right + 18, labelY + 4, words, 'label'),
    )
    if (wet !== null && wet !== undefined) {
      // A probe: filled where it is wet, open where it is dry; the list beside the drawing says it in words.
      group.append(draw('circle', { cx: right - 16, cy: at, r: 4.5, class: wet ? 'probe wet' : 'probe' }))
    }
  })
  return group
}

/** What stands written in the tank itself. */
function insideWords(now: NowBody, surface: Surface, people: People): string[] {
  if (surface.kind === 'unknown') return ['not known']
  const volume = now.water?.volume_l ?? null
  if (surface.kind === 'between') {
    return volume === null ? [surface.words] : [surface.words, `reckoned ${people.say('volume', volume)}`]
  }
  return [people.say('volume', volume), people.say('level', surface.levelM)]
}

/** Where the words begin: under a surface with room below it, else above it; in a band, in its middle. */
function wordsAt(frame: Frame, surface: Surface, count: number): number {
  if (surface.kind === 'measured') {
    const y = frame.y(surface.levelM)
    return frame.bottom - y < 62 ? y - 30 : y + 34
  }
  const middle =
    surface.kind === 'between' ? (frame.y(surface.fromM) + frame.y(surface.toM)) / 2 : (frame.top + frame.bottom) / 2
  return middle + 5 - (count - 1) * 9
}

function written(frame: Frame, surface: Surface, words: readonly string[]): SVGGElement {
  const group = draw('g')
  const first = wordsAt(frame, surface, words.length)
  words.forEach((word, index) => {
    const name = surface.kind === 'measured' ? (index === 0 ? 'large' : 'small') : 'halo'
    const step = surface.kind === 'measured' ? 22 : 18
    group.append(text(frame.x + frame.width / 2, first + index * step, word, name, 'middle'))
  })
  return group
}

function pumpWords(now: NowBody): string {
  const { pump } = now
  if (pump === null || !pump.known) return 'pump: not known'
  if (pump.running) return `pump running for ${duration(pump.ran_s)}`
  return 'pump resting'
}

function well(now: NowBody, inletX: number, inletY: number): SVGGElement {
  const { x, halfWidth, bottom } = WELL
  const running = now.pump?.known === true && now.pump.running
  const pumpTop = bottom - 34
  const pipe = `M${x} ${pumpTop}V${inletY}H${inletX}v10`
  const breakY = VIEW.ground + 44
  return draw(
    'g',
    {},
    line(x - halfWidth, VIEW.ground, x - halfWidth, bottom, 'casing'),
    line(x + halfWidth, VIEW.ground, x + halfWidth, bottom, 'casing'),
    draw('rect', {
      x: x - halfWidth,
      y: VIEW.ground + 66,
      width: 2 * halfWidth,
      height: bottom - VIEW.ground - 66,
      class: 'water',
    }),
    draw('path', { d: pipe, class: 'pipe' }),
    running ? draw('path', { d: pipe, class: 'flow' }) : null,
    draw('rect', { x: x - 6, y: pumpTop, width: 12, height: 26, rx: 3, class: running ? 'pump on' : 'pump' }),
    // The break sign: the well is far deeper than drawn.
    draw('path', { d: `M${x - 18} ${breakY}l12 -6l12 12l12 -6`, class: 'break' }),
    text(x + 24, bottom - 14, pumpWords(now), 'label strong'),
  )
}

/** Draws the section; its title says in words what it shows. */
export function sectionDrawing(now: NowBody, people: People): SVGSVGElement | null {
  const { tank } = now
  if (tank === null) return null
  const frame = tankFrame(tank)
  const round = tank.outline === 'lying-cylinder'
  const surface = surfaceOf(tank, now.water)
  const words = insideWords(now, surface, people)
  const inletY = Math.max(12, frame.top - 12)
  const scaleWords = frame.toScale ? 'tank to scale, well not' : 'tank not to scale'
  return draw(
    'svg',
    {
      viewBox: `0 ${inletY - 10} ${VIEW.width} ${VIEW.height - inletY + 10}`,
      role: 'img',
      class: 'drawing',
    },
    draw('title', {}, `Section: the tank holds ${words.join(', ')}; ${pumpWords(now)}.`),
    draw('defs', {}, inside(frame, round), hatch()),
    ground(),
    water(frame, surface),
    outline(frame, round),
    marks(tank, now, frame, people),
    well(now, frame.x + Math.min(24, frame.width / 4), inletY),
    written(frame, surface, words),
    text(VIEW.width - 4, VIEW.height - 4, scaleWords, 'tiny', 'end'),
  )
}
