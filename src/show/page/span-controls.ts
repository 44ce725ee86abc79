/** What is chosen above the curves: the span, which signals, and the download. */
import type { NowBody } from '../bodies/now.js'
import { el } from './dom.js'
import { daySpan, instantWords, lastSpan, moved, SPANS, type Span, USUAL_SPAN_MS } from './span.js'

export type SpanAsks = {
  readonly now: () => NowBody | null
  /** Another span was chosen. */
  readonly change: () => void
  /** Other signals were chosen. */
  readonly choose: (keys: string[]) => void
  /** The shown span as CSV. */
  readonly download: () => string
}

export type SpanControls = {
  readonly element: HTMLElement
  readonly span: () => Span
  /** Carries a span that ends now on to `now`. */
  readonly refresh: (now: number) => Span
  /** Sets the ends to those that the daemon has answered for. */
  readonly setEnds: (from: number, to: number) => void
  readonly offer: (
    curves: readonly { readonly key: string; readonly title: string }[],
    chosen: readonly string[],
  ) => void
  readonly complain: (error: unknown) => void
}

function button(words: string, press: () => void): HTMLButtonElement {
  const made = el('button', { type: 'button' }, words)
  made.addEventListener('click', press)
  return made
}

export function spanControls(asks: SpanAsks): SpanControls {
  let span: Span = lastSpan(USUAL_SPAN_MS, 0)
  const said = el('p', { class: 'quiet', id: 'span-words', role: 'status' })
  const trouble = el('p', { class: 'caution', role: 'alert', hidden: true })
  const later = button('Later', () => take(moved(span, 1, nowMs())))
  const choices = SPANS.map(({ words, ms }) => {
    const made = button(words, () => take(lastSpan(ms, nowMs())))
    made.dataset.ms = String(ms)
    return made
  })
  const signals = el('div', { class: 'curves', role: 'group', 'aria-label': 'Curves' })
  let offered = ''

  function nowMs(): number {
    const now = asks.now()
    return now === null ? span.to : Date.parse(now.at)
  }

  function show(): void {
    const zone = asks.now()?.site.timezone ?? 'UTC'
    const width = span.to - span.from
    said.textContent = `${instantWords(span.from, width, zone)} to ${span.live ? 'now' : instantWords(span.to, width, zone)}`
    for (const made of choices)
      made.setAttribute('aria-pressed', String(span.live && Number(made.dataset.ms) === width))
    later.disabled = span.live
  }

  function take(next: Span): void {
    span = next
    trouble.hidden = true
    show()
    asks.change()
  }

  function complain(error: unknown): void {
    trouble.textContent = `The curves could not be fetched. ${error instanceof Error ? error.message : ''}`
    trouble.hidden = false
  }

  const first = el('input', { type: 'date', required: true })
  const last = el('input', { type: 'date', required: true })
  const dates = el(
    'form',
    { class: 'row' },
    el('label', {}, 'From ', first),
    el('label', {}, 'to ', last),
    el('button', { type: 'submit' }, 'Show these days'),
  )
  dates.addEventListener('submit', (event) => {
    event.preventDefault()
    const zone = asks.now()?.site.timezone ?? 'UTC'
    const next = daySpan(first.value, last.value, zone, nowMs())
    if (next !== null) return take(next)
    trouble.textContent = 'These days cannot be shown: the first must not be after the last, and four years at most.'
    trouble.hidden = false
  })
  const save = button('Download as CSV', () => {
    const url = URL.createObjectURL(new Blob([asks.download()], { type: 'text/csv' }))
    const day = (t: number): string => new Date(t).toISOString().slice(0, 10)
    const name = `${asks.now()?.site.id ?? 'site'}-${day(span.from)}-${day(span.to)}.csv`
    el('a', { href: url, download: name }).click()
    setTimeout(() => URL.revokeObjectURL(url), 60_000)
  })
  signals.addEventListener('change', () => {
    const on = [...signals.querySelectorAll('input')].filter((input) => input.checked)
    asks.choose(on.map((input) => input.value))
  })
  const element = el(
    'div',
    { class: 'span' },
    el('div', { class: 'row', role: 'group', 'aria-label': 'How far back' }, ...choices),
    el(
      'div',
      { class: 'row' },
      button('Earlier', () => take(moved(span, -1, nowMs()))),
      later,
      said,
    ),
    el('details', {}, el('summary', {}, 'Other days, other curves, download'), dates, signals, save),
    trouble,
  )
  return {
    element,
    span: () => span,
    refresh(now) {
      if (span.live) span = lastSpan(span.to - span.from, now)
      show()
      return span
    },
    setEnds(from, to) {
      span = { ...span, from, to }
    },
    offer(curves, chosen) {
      const key = curves.map((curve) => curve.key).join(' ')
      if (key === offered) return
      offered = key
      const boxes = curves.map((curve) => {
        const box = el('input', { type: 'checkbox', value: curve.key, checked: chosen.includes(curve.key) })
        return el('label', { class: 'check' }, box, ` ${curve.title}`)
      })
      signals.replaceChildren(...boxes)
    },
    complain,
  }
}
