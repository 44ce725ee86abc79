/** Beneath an alarm's settings: what another figure would have said over the last month. Changes nothing. */
import { formatNumber, toPeople } from '../../model/format.js'
import type { UnitSystem } from '../../model/settings.js'
import type { AlarmSettingsBody } from '../bodies/alarm-settings.js'
import type { BacktestBody } from '../bodies/backtest.js'
import { el } from './dom.js'
import { post } from './net.js'
import { duration, type People } from './people.js'

type One = AlarmSettingsBody['alarms'][number]
type Setting = One['settings'][number]

/** The daemon works on it in pieces, beside what it has to do. */
const PATIENCE_MS = 300_000

/** How a figure is typed: minutes, the site's own units, or as it is. Every scale is a straight line. */
export function typed(kind: Setting['kind'], units: UnitSystem) {
  if (kind === 'duration') return { unit: 'min', show: (si: number) => si / 60, read: (value: number) => value * 60 }
  if (kind === 'ratio' || kind === 'count')
    return { unit: '', show: (si: number) => si, read: (value: number) => value }
  const zero = toPeople(kind, 0, units).value
  const one = toPeople(kind, 1, units).value - zero
  return {
    unit: toPeople(kind, 0, units).unit,
    show: (si: number) => zero + si * one,
    read: (value: number) => (value - zero) / one,
  }
}

function alarms(count: number, messages: number): string {
  const many = (n: number, word: string): string => `${formatNumber(n, 0)} ${word}${n === 1 ? '' : 's'}`
  return `${many(count, 'alarm')} and ${many(messages, 'message')}`
}

function changeWords({ change, title, configured, proposed }: BacktestBody['changes'][number], people: People): string {
  const by =
    configured === null || proposed === null
      ? ''
      : duration(Math.abs(Date.parse(proposed) - Date.parse(configured)) / 1000)
  const when = people.when(configured ?? proposed)
  switch (change) {
    case 'added':
      return `More: ${title}, ${when}`
    case 'gone':
      return `Not raised: ${title}, ${when}`
    case 'earlier':
    case 'later':
      return `${by} ${change}: ${title}, ${when}`
    case 'priority':
      return `Otherwise urgent: ${title}, ${when}`
    case 'told':
      return `A message of its own: ${title}, ${when}`
    case 'grouped':
      return `Beneath another alarm: ${title}, ${when}`
  }
}

function answerWords(body: BacktestBody, people: People): HTMLElement[] {
  const { alarms: found, messages, changes, changes_in_all: all } = body
  const before = alarms(found.configured, messages.configured)
  const after = alarms(found.proposed, messages.proposed)
  const rest = all > changes.length ? [el('li', {}, `and ${formatNumber(all - changes.length, 0)} more`)] : []
  return [
    el('p', {}, `Since ${people.when(body.from)}, all alarms together: ${before} as it is set, ${after} with this.`),
    all === 0
      ? el('p', {}, 'Nothing would have differed.')
      : el('ul', {}, ...changes.map((one) => el('li', {}, changeWords(one, people))), ...rest),
    body.learned ? null : el('p', { class: 'quiet' }, 'Tried from nothing learned: the first days may differ.'),
  ].filter((one) => one !== null)
}

export function trySetting(alarm: One, units: UnitSystem, people: People): HTMLElement {
  const which = el('select', { name: 'setting' }, ...alarm.settings.map(({ name }) => el('option', {}, name)))
  const figure = el('input', { name: 'figure', type: 'number', step: 'any', required: true })
  const unit = el('span', {})
  const said = el('div', { role: 'status' })
  const button = el('button', { type: 'submit' }, 'Try it')
  const chosen = (): Setting | undefined => alarm.settings.find(({ name }) => name === which.value)
  const present = (): void => {
    const setting = chosen()
    if (setting === undefined) return
    const { unit: words, show } = typed(setting.kind, units)
    figure.value = String(Number(show(setting.value).toPrecision(6)))
    unit.textContent = words
  }
  which.addEventListener('change', present)
  present()
  const form = el(
    'form',
    { class: 'row' },
    el('label', {}, 'Setting ', which),
    el('label', {}, 'if it were ', figure, ' ', unit),
    button,
  )
  form.addEventListener('submit', (event) => {
    event.preventDefault()
    const setting = chosen()
    if (setting === undefined || button.disabled) return
    const value = typed(setting.kind, units).read(Number(figure.value))
    button.disabled = true
    said.replaceChildren(el('p', {}, 'Trying it over the last 30 days; this may take a minute.'))
    post<BacktestBody>('/api/backtest', { alarm: alarm.id, settings: { [setting.name]: value } }, PATIENCE_MS)
      .then(
        (body) => said.replaceChildren(...answerWords(body, people)),
        (error: unknown) => {
          const words = error instanceof Error ? error.message : ''
          said.replaceChildren(el('p', { class: 'caution' }, `It could not be tried. ${words}`))
        },
      )
      .finally(() => {
        button.disabled = false
      })
  })
  return el('details', { class: 'try' }, el('summary', {}, 'Try another setting'), form, said)
}
