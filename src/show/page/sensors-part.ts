/** Where the check of the sensors stands on the page: at the end, opened by hand; at the top while nothing was heard. */
import type { NowBody } from '../bodies/now.js'
import { el } from './dom.js'

export type SensorsPart = { readonly element: HTMLElement; readonly begin: () => void }

/** Fetches its code only when it is opened. */
export function sensorsPart(now: () => NowBody | null): SensorsPart {
  const body = el('div', {})
  const title = el('summary', {}, 'Check the sensors, connect a board')
  const details = el('details', {}, title, body)
  let stop: (() => void) | null = null
  let nothingHeard = false

  async function show(): Promise<void> {
    if (!details.open) {
      stop?.()
      stop = null
      return body.replaceChildren()
    }
    if (stop !== null) return
    stop = () => undefined
    try {
      const { sensorsView } = await import('./sensors.js')
      const view = sensorsView(() => {
        const known = now()
        if (known === null) throw new Error('the page knows nothing yet')
        return known
      }, nothingHeard)
      stop = view.stop
      body.replaceChildren(view.element)
    } catch {
      stop = null
      body.replaceChildren(el('p', { class: 'caution' }, 'This part could not be fetched. Load the page again.'))
    }
  }
  details.addEventListener('toggle', () => void show())
  return {
    element: el('section', { id: 'sensors', 'aria-label': 'Check the sensors' }, details),
    begin() {
      nothingHeard = true
      title.textContent = 'Connect the boards, and see each signal arrive'
      details.open = true
    },
  }
}
