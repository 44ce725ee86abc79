/** History: curves over any span, with fills, alarms and log entries on the same axis; readable, in tables, as CSV. */
import type { QuantityKind } from '../../model/alarm.js'
import { toPeople } from '../../model/format.js'
import { DAY } from '../../model/time.js'
import type { AlarmBody } from '../bodies/alarms.js'
import type { CycleBody, JournalBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { SeriesBody } from '../bodies/series.js'
import { spanCsv } from './chart-csv.js'
import { columns, daily, hourly, nearestRow, rowWords } from './chart-data.js'
import { el, table } from './dom.js'
import { MARK_NAMES, type Mark, marksOf } from './marks.js'
import { type Reader, read as readNow } from './net.js'
import { NOT_KNOWN, type People, peopleOf, signalWords } from './people.js'
import type { Plot } from './plot.js'
import { readingOf } from './signal-kind.js'
import { instantWords, pointsFor, type Span, USUAL_SPAN_MS } from './span.js'
import { spanControls } from './span-controls.js'

/** As fine as a phone can show, and small to fetch; a desk takes some more. */
const POINTS = { phone: 240, desk: 400 } as const
/** More fills than this would be a smear. */
const FILLS_SHOWN_MS = 45 * DAY
const MARKS_LISTED = 60
const CURVES_MAX = 6

type Curve = { readonly key: string; readonly kind: QuantityKind; readonly factor: number; readonly title: string }

const TITLES: Readonly<Record<string, string>> = { 'tank-level': 'Level of the tank' }

function titleOf(key: string): string {
  const words = signalWords(key)
  return TITLES[key] ?? words.charAt(0).toUpperCase() + words.slice(1)
}

/** Every signal that can be a curve: contacts cannot. */
export function curvesOf(now: NowBody): Curve[] {
  return now.latest.flatMap(({ key, role, unit }) => {
    const reading = readingOf(role, unit)
    return reading === null ? [] : [{ key, ...reading, title: titleOf(key) }]
  })
}

/** Level, pump current, voltage: what is shown until somebody chooses otherwise. */
export function usualCurves(now: NowBody): string[] {
  const has = (key: string): boolean => now.latest.some((one) => one.key === key)
  const voltage = has('battery-voltage') ? 'battery-voltage' : 'pump-voltage'
  return ['tank-level', 'pump-current', voltage].filter(has)
}

type Drawn = {
  readonly element: HTMLElement
  /** Says what the curve was at an instant; null: nothing is being read. */
  readonly say: (t: number | null) => string
  readonly place: HTMLElement | null
  readonly curve: Curve
  readonly body: SeriesBody
}

function captionOf(curve: Curve, now: NowBody, people: People): string {
  const latest = now.latest.find((one) => one.key === curve.key)
  if (latest?.at == null) return NOT_KNOWN
  const value = latest.value === null ? null : latest.value * curve.factor
  return `${people.say(curve.kind, value)} at ${people.when(latest.at)}`
}

function drawn(curve: Curve, body: SeriesBody, now: NowBody, people: People, span: Span): Drawn {
  const { units, timezone } = now.site
  const { kind, factor } = curve
  const said = el('p', { class: 'quiet readout' }, '\u00a0')
  const empty = body.rows.every((row) => row.n === 0)
  const place = empty ? null : el('div', { class: 'curve', 'aria-hidden': true })
  const details = el('details', {}, el('summary', {}, `${curve.title} as a table`))
  details.addEventListener('toggle', () => {
    if (!details.open || details.children.length > 1) return
    const byDay = span.to - span.from > 3 * DAY
    const rows = (byDay ? daily : hourly)(body.rows, kind, units, timezone, factor)
    const caption = `${curve.title}, ${byDay ? 'day by day' : 'hour by hour'}, newest first`
    details.append(table(caption, [byDay ? 'Day' : 'Hour from', 'Lowest', 'Mean', 'Highest'], rows))
  })
  const heading = el('figcaption', {}, el('strong', {}, curve.title), ` ${captionOf(curve, now, people)}`)
  const shown = place ?? el('p', {}, 'Nothing was heard in this span.')
  return {
    element: el('figure', { 'data-key': curve.key }, heading, shown, said, details),
    place,
    curve,
    body,
    say(t) {
      const row = t === null ? undefined : body.rows[nearestRow(body.rows, t)]
      const words = row === undefined ? '' : rowWords(row, body, kind, units, factor)
      const when = t === null ? '' : instantWords(t, 0, timezone)
      said.textContent = words === '' ? '\u00a0' : `${when}: ${words}`
      return words
    },
  }
}

function marksList(marks: readonly Mark[], span: Span, zone: string): HTMLElement | null {
  if (marks.length === 0) return null
  const rows = marks
    .toReversed()
    .slice(0, MARKS_LISTED)
    .map((mark) => [instantWords(mark.from, span.to - span.from, zone), MARK_NAMES[mark.kind], mark.words])
  const more = marks.length > MARKS_LISTED ? `, the latest ${MARKS_LISTED} of ${marks.length}` : ''
  return el(
    'div',
    {},
    el(
      'p',
      { class: 'quiet' },
      'Shaded: the pump ran. Triangle: an alarm was raised. Square: something was written into the log.',
    ),
    el(
      'details',
      { id: 'marks' },
      el('summary', {}, 'What happened in this span'),
      table(`Fills, alarms and log entries${more}, newest first`, ['When', 'What', 'More of it'], rows),
    ),
  )
}

export type Charts = { readonly element: HTMLElement; readonly show: (now: NowBody, read: Reader) => Promise<void> }

type Shown = { readonly now: NowBody; readonly read: Reader }

/** The section; `show` asks anew for the span that is chosen and draws it, leaving open tables open. */
export function createCharts(): Charts {
  const figures = el('div', { class: 'figures' })
  const happened = el('div', {})
  const reading = el('input', { type: 'range', min: 0, max: 1000, value: 1000, id: 'reading' })
  const readingRow = el('div', { class: 'row reading' }, el('label', { for: 'reading' }, 'Read the curves at'), reading)
  let shown: Shown | null = null
  let chosen: string[] | null = null
  let list: readonly Drawn[] = []
  let plots: readonly Plot[] = []
  let asked = 0

  const controls = spanControls({
    now: () => shown?.now ?? null,
    change: () => void draw(true),
    choose(keys) {
      chosen = keys
      void draw(true)
    },
    download: () =>
      spanCsv(
        list.map(({ body }) => body),
        shown?.now.site.timezone ?? 'UTC',
      ),
  })
  const element = el(
    'section',
    { id: 'day', 'aria-labelledby': 'day-title' },
    el('h2', { id: 'day-title' }, 'History'),
    controls.element,
    figures,
    readingRow,
    happened,
  )

  function readAt(t: number): void {
    const span = controls.span()
    const zone = shown?.now.site.timezone ?? 'UTC'
    for (const plot of plots) plot.readAt(t)
    const words = list.map((one) => `${one.curve.title} ${one.say(t)}`)
    reading.value = String(Math.round(((t - span.from) / (span.to - span.from)) * 1000))
    reading.setAttribute('aria-valuetext', `${instantWords(t, span.to - span.from, zone)}: ${words.join('; ')}`)
  }
  reading.addEventListener('input', () => {
    const span = controls.span()
    readAt(span.from + (Number(reading.value) / 1000) * (span.to - span.from))
  })

  /** The usual span is asked for without its ends: so the daemon says what its last day is, and it can be kept. */
  async function fetchAll({ read }: Shown, curves: readonly Curve[], span: Span): Promise<readonly SeriesBody[]> {
    const points = pointsFor(span.to - span.from, matchMedia('(width >= 52rem)').matches ? POINTS.desk : POINTS.phone)
    const usual = span.live && span.to - span.from === USUAL_SPAN_MS
    const ask = usual ? read : readNow
    const ends = usual ? '' : `&${query(span)}`
    const bodies = curves.map(({ key }) =>
      ask<SeriesBody>(`/api/series/${encodeURIComponent(key)}`, `points=${points}${ends}`),
    )
    return Promise.all(bodies)
  }

  async function fetchMarks({ now }: Shown, span: Span): Promise<Mark[]> {
    const people = peopleOf(now)
    const ends = query(span)
    const withFills = span.to - span.from <= FILLS_SHOWN_MS
    const [{ cycles }, { active, past }, { entries }] = await Promise.all([
      withFills ? readNow<{ cycles: CycleBody[] }>('/api/cycles', `${ends}&limit=200`) : { cycles: [] },
      readNow<{ active: AlarmBody[]; past: AlarmBody[] }>('/api/alarms', ends),
      readNow<{ entries: JournalBody[] }>('/api/journal', ends),
    ])
    const within = active.filter((alarm) => Date.parse(alarm.raised) < span.to)
    return marksOf(cycles, [...past, ...within], entries, people)
  }

  async function draw(byHand: boolean): Promise<void> {
    const so = shown
    if (so === null) return
    const { now } = so
    const mine = ++asked
    const span = controls.refresh(Date.parse(now.at))
    const wanted = chosen ?? usualCurves(now)
    const curves = curvesOf(now)
      .filter(({ key }) => wanted.includes(key))
      .slice(0, CURVES_MAX)
    element.setAttribute('aria-busy', 'true')
    try {
      const [bodies, marks] = await Promise.all([fetchAll(so, curves, span), fetchMarks(so, span).catch(() => [])])
      // Somebody has chosen another span meanwhile, or has a table open that would close.
      if (mine !== asked || (!byHand && isRead())) return
      const first = bodies[0]
      if (first !== undefined && span.live) controls.setEnds(Date.parse(first.from), Date.parse(first.to))
      await put(so, curves, bodies, marks)
    } catch (error) {
      if (byHand) controls.complain(error)
      else throw error
    } finally {
      if (mine === asked) element.removeAttribute('aria-busy')
    }
  }

  function isRead(): boolean {
    const active = document.activeElement
    return figures.querySelector('details[open]') !== null || figures.contains(active) || active === reading
  }

  async function put(so: Shown, curves: readonly Curve[], bodies: readonly SeriesBody[], marks: Mark[]): Promise<void> {
    const { now } = so
    const span = controls.span()
    const people = peopleOf(now)
    const { mountPlot } = await import('./plot.js')
    for (const plot of plots) plot.end()
    list = curves.flatMap((curve, index) => {
      const body = bodies[index]
      return body === undefined ? [] : [drawn(curve, body, now, people, span)]
    })
    const noLevel = curvesOf(now).some(({ key }) => key === 'tank-level')
      ? null
      : el('p', { class: 'quiet' }, 'No curve of the level: the probes tell only whether water stands at their marks.')
    figures.replaceChildren(...[noLevel, ...list.map((one) => one.element)].filter((one) => one !== null))
    happened.replaceChildren(...[marksList(marks, span, now.site.timezone)].filter((one) => one !== null))
    readingRow.hidden = list.every(({ place }) => place === null)
    plots = list.flatMap(({ place, curve, body }) => (place === null ? [] : [plotOf(place, curve, body)]))
    function plotOf(place: HTMLElement, { kind, factor }: Curve, body: SeriesBody): Plot {
      const { units, timezone: zone } = now.site
      const { unit } = toPeople(kind, 0, units)
      const data = columns(body.rows, kind, units, factor)
      return mountPlot({ place, data, span, unit, zone, marks, onRead: readAt })
    }
  }

  return {
    element,
    async show(now, read) {
      shown = { now, read }
      controls.offer(curvesOf(now), chosen ?? usualCurves(now))
      await draw(false)
    },
  }
}

function query({ from, to }: Span): string {
  return `from=${new Date(from).toISOString()}&to=${new Date(to).toISOString()}`
}
