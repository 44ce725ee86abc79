/** A part whose code and data are fetched when somebody opens it. */
import { el } from './dom.js'

/** `fill` is asked each time that it is opened. */
export function lazyPart(id: string, title: string, fill: () => Promise<readonly Node[]>): HTMLElement {
  const body = el('div', { 'aria-live': 'polite' })
  const details = el('details', {}, el('summary', {}, title), body)
  let asked = 0
  details.addEventListener('toggle', () => {
    if (!details.open) return
    const mine = ++asked
    fill().then(
      (nodes) => {
        if (mine === asked) body.replaceChildren(...nodes)
      },
      (error: unknown) => {
        const words = error instanceof Error ? error.message : ''
        body.replaceChildren(el('p', { class: 'caution' }, `This could not be fetched. ${words}`))
      },
    )
  })
  return el('section', { id, 'aria-label': title }, details)
}
