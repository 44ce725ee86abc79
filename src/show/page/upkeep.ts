/** What people say about the place: away, season, maintenance, and the service log. */
import type { JournalBody } from '../bodies/history.js'
import type { NowBody } from '../bodies/now.js'
import type { UpkeepBody } from '../bodies/upkeep.js'
import { el, table } from './dom.js'
import type { People } from './people.js'

export type UpkeepActs = {
  readonly away: (away: boolean | null) => Promise<void>
  readonly season: (winterized: boolean) => Promise<void>
  readonly maintenance: (minutes: number) => Promise<void>
  /** True when it has been written down. */
  readonly journal: (text: string, newBaseline: boolean, upkeep: string | null) => Promise<boolean>
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

/** The form for the log: made once, so that what is being written is never drawn over. `offer` names the upkeep. */
export function journalForm(acts: UpkeepActs): {
  readonly element: HTMLElement
  offer(names: readonly string[]): void
} {
  const text = el('textarea', { id: 'entry', rows: 2, maxlength: 2000, required: true })
  const baseline = el('input', { type: 'checkbox' })
  const upkeep = el('select', { id: 'entry-upkeep' })
  const upkeepRow = el('p', { hidden: true }, el('label', { for: 'entry-upkeep' }, 'It was upkeep '), upkeep)
  // Whoever names the upkeep need not write it out as well.
  upkeep.addEventListener('change', () => {
    text.required = upkeep.value === ''
  })
  const form = el(
    'form',
    {},
    el('label', { for: 'entry' }, 'What was done there'),
    text,
    upkeepRow,
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
    const name = upkeep.value === '' ? null : upkeep.value
    const words = text.value.trim() === '' && name !== null ? doneWords(name) : text.value
    void acts.journal(words, baseline.checked, name).then((done) => {
      if (!done) return
      form.reset()
      text.required = true
    })
  })
  return {
    element: form,
    offer(names) {
      const known = [...upkeep.options].map(({ value }) => value).join('\n')
      if (known === ['', ...names].join('\n')) return
      upkeep.replaceChildren(
        el('option', { value: '' }, 'no'),
        ...names.map((name) => el('option', { value: name }, name)),
      )
      upkeepRow.hidden = names.length === 0
    },
  }
}

function doneWords(name: string): string {
  return `${name.charAt(0).toUpperCase()}${name.slice(1)}: done`
}

type Due = UpkeepBody['upkeep'][number]

function dueWords({ due_at: due, last_at: last, overdue }: Due, people: People): string {
  if (due === null) return 'not known: it was never noted as done'
  return overdue ? `since ${people.when(due)}` : `${people.when(due)}, last done ${people.when(last)}`
}

/** What is due comes first, then what will be, then what nobody has noted yet. Nothing where none is configured. */
export function duePart(body: UpkeepBody, owner: boolean, people: People, acts: UpkeepActs): HTMLElement[] {
  if (body.upkeep.length === 0) return []
  const order = (one: Due): number => (one.due_at === null ? Number.MAX_SAFE_INTEGER : Date.parse(one.due_at))
  const rows = body.upkeep
    .toSorted((a, b) => order(a) - order(b))
    .map((one) => {
      const done = button('Done', () => acts.journal(doneWords(one.name), false, one.name).then(() => undefined))
      done.setAttribute('aria-label', `${one.name}: done`)
      const words = dueWords(one, people)
      const due = one.overdue ? el('strong', {}, `Due ${words}`) : words
      const every = `${one.every_days} d`
      return owner ? [one.name, every, due, done] : [one.name, every, due]
    })
  const head = ['What', 'Every', 'Due', ...(owner ? ['Note it'] : [])]
  return [table('What is to be done again and again', head, rows)]
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
