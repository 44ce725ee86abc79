/** How much panel and battery: worked out when somebody opens it, for it takes the daemon some seconds. */
import type { UnitSystem } from '../../model/settings.js'
import type { SizingBody } from '../bodies/sizing.js'
import { adviceLines, basisLines, daysWords, handLine, rangeWords, wireLine } from '../words/sizing-lines.js'
import { el, table } from './dom.js'

function optionsTable(body: SizingBody): HTMLElement {
  const arrays = [...new Set(body.options.map((option) => option.array_w))]
  const batteries = [...new Set(body.options.map((option) => option.battery_ah))]
  const rows = arrays.map((watts) => [
    `${Math.round(watts)} W`,
    ...batteries.map((ah) => {
      const option = body.options.find((one) => one.array_w === watts && one.battery_ah === ah)
      if (option === undefined) return ''
      const chosen = body.recommended?.array_w === watts && body.recommended.battery_ah === ah
      const words = `${daysWords(option.short_days_per_year)} (${rangeWords([option.short_days_ci95[0], option.short_days_ci95[1]])})`
      const note = chosen ? ', the smallest that is enough' : ''
      const present = option.present ? ', stands there now' : ''
      return chosen || option.present ? el('strong', {}, `${words}${present}${note}`) : words
    }),
  ])
  const caption = 'Days short in a year, and in brackets where that lies in 95 of 100 cases'
  return table(caption, ['Array', ...batteries.map((ah) => `${Math.round(ah)} Ah`)], rows)
}

function lines(title: string, list: readonly string[]): HTMLElement[] {
  return list.length === 0 ? [] : [el('h3', {}, title), el('ul', {}, ...list.map((line) => el('li', {}, line)))]
}

function answer(body: SizingBody, units: UnitSystem): HTMLElement[] {
  const changes = body.changes.map((one) => `${one.words}: ${daysWords(one.short_days_per_year)}`)
  const hand = [handLine(body), wireLine(body)].filter((line) => line !== null)
  return [
    ...adviceLines(body).map((line) => el('p', {}, line)),
    ...(body.options.length === 0 ? [] : [optionsTable(body)]),
    ...lines('What else would help what stands there now', changes),
    ...lines('What it rests on', [...basisLines(body, units), ...hand]),
    ...lines('Keep in mind', body.cautions),
  ]
}

export type SizingPanel = { readonly element: HTMLElement }

/** `ask` fetches the answer; `units` are those of the site when the answer comes. */
export function sizingPanel(ask: () => Promise<SizingBody>, units: () => UnitSystem): SizingPanel {
  const body = el('div', { 'aria-live': 'polite' })
  const details = el('details', {}, el('summary', {}, 'How much panel and battery'), body)
  let asking = false
  const show = (): void => {
    if (!details.open || asking) return
    asking = true
    if (body.childElementCount === 0)
      body.replaceChildren(el('p', {}, 'Living through resampled years; this takes some seconds.'))
    ask()
      .then((found) => body.replaceChildren(...answer(found, units())))
      .catch((error: unknown) => {
        body.replaceChildren(
          el('p', { class: 'caution' }, `It could not be worked out. ${error instanceof Error ? error.message : ''}`),
        )
      })
      .finally(() => {
        asking = false
      })
  }
  details.addEventListener('toggle', show)
  return { element: el('section', { id: 'sizing', 'aria-label': 'How much panel and battery' }, details) }
}
