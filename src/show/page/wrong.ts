/** What is wrong: cause, what to do, how long there is; seen and put aside from here. */
import type { AlarmBody } from '../bodies/alarms.js'
import type { NowBody } from '../bodies/now.js'
import { el, facts } from './dom.js'
import type { People } from './people.js'

export type AlarmActs = {
  readonly acknowledge: (key: string) => Promise<void>
  readonly shelve: (key: string, minutes: number, reason: string) => Promise<void>
}

const SHELVE_CHOICES: readonly (readonly [string, number])[] = [
  ['1 hour', 60],
  ['4 hours', 240],
  ['1 day', 1_440],
  ['7 days', 10_080],
]

function stateWords(alarm: AlarmBody, people: People): string {
  switch (alarm.state) {
    case 'unacknowledged':
      return 'nobody has seen it yet'
    case 'acknowledged':
      return `seen by ${alarm.acknowledged_by ?? 'somebody'} ${people.when(alarm.acknowledged_at)}`
    case 'returned-unacknowledged':
      return 'over, but nobody has seen it yet'
    case 'shelved':
      return `put aside until ${people.when(alarm.shelved_until)}: ${alarm.shelve_reason ?? 'no reason given'}`
    case 'latched':
      return 'over, held until it is looked at'
    case 'suppressed':
      return 'quiet by design'
    case 'out-of-service':
      return 'switched off'
    case 'normal':
      return 'over'
  }
}

function evidence(alarm: AlarmBody, people: People): HTMLElement | null {
  if (alarm.evidence.length === 0) return null
  return facts(
    alarm.evidence.map((one) => {
      const usual = one.usual === null ? '' : ` (usual ${people.say(one.quantity, one.usual)})`
      return [one.label, `${people.say(one.quantity, one.value)}${usual}`] as const
    }),
  )
}

function shelveForm(alarm: AlarmBody, acts: AlarmActs): HTMLElement {
  const span = el('select', { name: 'minutes' })
  for (const [words, minutes] of SHELVE_CHOICES) span.append(el('option', { value: minutes }, words))
  const reason = el('input', { name: 'reason', required: true, maxlength: 200, autocomplete: 'off' })
  const form = el(
    'form',
    { class: 'row' },
    el('label', {}, 'For ', span),
    el('label', { class: 'grow' }, 'Because ', reason),
    el('button', { type: 'submit' }, 'Put aside'),
  )
  form.addEventListener('submit', (event) => {
    event.preventDefault()
    reason.blur()
    void acts.shelve(alarm.key, Number(span.value), reason.value)
  })
  return el('details', {}, el('summary', {}, 'Put it aside for a time'), form)
}

/** Whether a person's word moves the alarm on: a latched one stays on the list until somebody gives it. */
export function isUnseen(state: AlarmBody['state']): boolean {
  return state === 'unacknowledged' || state === 'returned-unacknowledged' || state === 'latched'
}

function controls(alarm: AlarmBody, acts: AlarmActs): HTMLElement {
  const button = el(
    'button',
    { type: 'button', class: 'main', 'aria-label': `I have seen it: ${alarm.title}` },
    'I have seen it',
  )
  button.addEventListener('click', () => {
    button.disabled = true
    void acts.acknowledge(alarm.key)
  })
  return el(
    'div',
    { class: 'controls' },
    isUnseen(alarm.state) ? button : null,
    alarm.state === 'shelved' ? null : shelveForm(alarm, acts),
  )
}

function article(
  alarm: AlarmBody,
  after: readonly AlarmBody[],
  now: NowBody,
  people: People,
  acts: AlarmActs,
): HTMLElement {
  return el(
    'article',
    { class: `alarm ${alarm.priority}`, 'data-key': alarm.key },
    el('h3', {}, alarm.title),
    el(
      'p',
      { class: 'quiet' },
      el('strong', {}, `${alarm.priority} priority`),
      `, since ${people.when(alarm.since)} (${people.ago(alarm.since)}), ${stateWords(alarm, people)}`,
    ),
    el('p', {}, alarm.what),
    el('p', { class: 'todo' }, el('strong', {}, 'Do: '), alarm.action),
    alarm.caution === null ? null : el('p', { class: 'caution' }, el('strong', {}, 'Take care: '), alarm.caution),
    alarm.time_left === null ? null : el('p', {}, el('strong', {}, 'How long: '), alarm.time_left),
    alarm.causes.length === 0
      ? null
      : el(
          'div',
          {},
          el('h4', {}, 'Likely, the likeliest first'),
          el('ol', {}, ...alarm.causes.map((one) => el('li', {}, one))),
        ),
    evidence(alarm, people),
    el('p', {}, el('strong', {}, 'If nobody acts: '), alarm.if_ignored),
    after.length === 0
      ? null
      : el(
          'div',
          {},
          el('h4', {}, 'Follows from this'),
          el('ul', {}, ...after.map((one) => el('li', {}, `${one.title}: ${one.what}`))),
        ),
    now.you.role === 'owner' ? controls(alarm, acts) : null,
  )
}

/** The articles, most urgent first; consequences stand beneath their cause, not on their own. */
export function wrongPart(now: NowBody, people: People, acts: AlarmActs): HTMLElement[] {
  const order = ['critical', 'high', 'medium', 'low']
  const keys = new Set(now.alarms.map((alarm) => alarm.key))
  const aside = (alarm: AlarmBody): number => (alarm.state === 'shelved' || alarm.state === 'suppressed' ? 1 : 0)
  return now.alarms
    .filter((alarm) => alarm.explained_by === null || !keys.has(alarm.explained_by))
    .toSorted((a, b) => aside(a) - aside(b) || order.indexOf(a.priority) - order.indexOf(b.priority))
    .map((alarm) => {
      const after = now.alarms.filter((one) => one.explained_by === alarm.key)
      return article(alarm, after, now, people, acts)
    })
}
