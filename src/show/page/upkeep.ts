/** What people say about the place: away, season, maintenance, and the service log. */
import type { JournalBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import { el } from './dom.js'
import type { People } from './people.js'

export type UpkeepActs = {
  readonly away: (away: boolean | null) => Promise<void>
  readonly season: (winterized: boolean) => Promise<void>
  readonly maintenance: (minutes: number) => Promise<void>
  /** True when it has been written down. */
  readonly journal: (text: string, newBaseline: boolean) => Promise<boolean>
}

function button(words: string, press: () => Promise<void>): HTMLButtonElement {
  const made = el('button', { type: 'button' }, words)
  made.addEventListener('click', () => {
    made.disabled = true
    void press().finally(() => {
      made.disabled = false
    })
  })
  return made
}

/** The three modes with what may be done about each. */
export function modesPart(now: NowBody, people: People, acts: UpkeepActs): HTMLElement[] {
  const { away, winterized, maintenance_until: until } = now.modes
  const owner = now.you.role === 'owner'
  const row = (words: string, ...buttons: HTMLButtonElement[]): HTMLElement =>
    el('div', { class: 'row' }, el('p', { class: 'grow' }, words), ...(owner ? buttons : []))
  return [
    row(
      away ? 'Nobody is there.' : 'Somebody is there, or may be.',
      away ? button('We are there', () => acts.away(false)) : button('We are away', () => acts.away(true)),
      button('By the calendar', () => acts.away(null)),
    ),
    row(
      winterized ? 'Drained for the winter: what is drained stays quiet.' : 'In use.',
      winterized
        ? button('In use again', () => acts.season(false))
        : button('Drained for the winter', () => acts.season(true)),
    ),
    until === null
      ? row(
          'No maintenance under way.',
          button('Maintenance for 1 h', () => acts.maintenance(60)),
          button('for 4 h', () => acts.maintenance(240)),
        )
      : row(
          `Maintenance until ${people.when(until)}: messages are held back; it ends by itself.`,
          button('End it now', () => acts.maintenance(0)),
        ),
  ]
}

/** The form for the log: made once, so that what is being written is never drawn over. */
export function journalForm(acts: UpkeepActs): HTMLElement {
  const text = el('textarea', { id: 'entry', rows: 2, maxlength: 2000, required: true })
  const baseline = el('input', { type: 'checkbox' })
  const form = el(
    'form',
    {},
    el('label', { for: 'entry' }, 'Write into the service log'),
    text,
    el(
      'label',
      { class: 'check' },
      baseline,
      ' What was usual no longer holds (new pump, moved sensor): learn anew from here',
    ),
    el('button', { type: 'submit' }, 'Write it down'),
  )
  form.addEventListener('submit', (event) => {
    event.preventDefault()
    void acts.journal(text.value, baseline.checked).then((done) => {
      if (!done) return
      text.value = ''
      baseline.checked = false
    })
  })
  return form
}

const SHOWN = 10

/** Newest first. */
export function journalPart(entries: readonly JournalBody[], people: People): HTMLElement[] {
  if (entries.length === 0) return [el('p', {}, 'Nothing has been written down yet.')]
  const items = entries
    .slice(-SHOWN)
    .toReversed()
    .map((entry) =>
      el(
        'li',
        {},
        el(
          'span',
          { class: 'quiet' },
          `${people.when(entry.at)}, ${entry.by}${entry.new_baseline ? ', learning anew from here' : ''}: `,
        ),
        entry.text,
      ),
    )
  return [el('ul', { class: 'log' }, ...items)]
}
