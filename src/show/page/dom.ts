/** Making elements. Text only ever becomes text: nothing here, and nothing on the page, parses HTML. */

type Child = Node | string | null
type Attributes = Readonly<Record<string, string | number | boolean | null>>

const SVG = 'http://www.w3.org/2000/svg'

function fill(element: Element, attributes: Attributes, children: readonly Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === false) continue
    element.setAttribute(name, value === true ? '' : String(value))
  }
  for (const child of children) if (child !== null) element.append(child)
}

/** `el('p', { class: 'quiet' }, 'text', otherElement)`; null children and attributes are left out. */
export function el<Tag extends keyof HTMLElementTagNameMap>(
  tag: Tag,
  attributes: Attributes = {},
  ...children: readonly Child[]
): HTMLElementTagNameMap[Tag] {
  const element = document.createElement(tag)
  fill(element, attributes, children)
  return element
}

/** The same for drawings. */
export function draw<Tag extends keyof SVGElementTagNameMap>(
  tag: Tag,
  attributes: Attributes = {},
  ...children: readonly Child[]
): SVGElementTagNameMap[Tag] {
  const element = document.createElementNS(SVG, tag)
  fill(element, attributes, children)
  return element
}

export type Part = {
  readonly element: HTMLElement
  /** Draws the part again when `key` (what it shows) has changed, unless somebody is writing in it. */
  readonly show: (key: unknown, make: () => readonly Child[]) => void
}

/** A section of the page that is drawn again only when what it shows has changed: open details and focus stay. */
export function part(id: string, title: string | null): Part {
  const body = el('div', { class: 'body' })
  const heading = title === null ? null : el('h2', { id: `${id}-title` }, title)
  const labels = title === null ? { id } : { id, 'aria-labelledby': `${id}-title` }
  const element = el('section', labels, heading, body)
  let shown: string | null = null
  return {
    element,
    show(key, make) {
      const text = JSON.stringify(key)
      if (text === shown || isBusy(body)) return
      shown = text
      const made = make().filter((child) => child !== null)
      body.replaceChildren(...made)
      element.hidden = made.length === 0
    },
  }
}

function isBusy(body: HTMLElement): boolean {
  const active = document.activeElement
  return active !== null && body.contains(active) && active.matches('input, textarea, select')
}

/** Names and values, as a description list. */
export function facts(rows: readonly (readonly [string, Child] | null)[]): HTMLElement {
  const list = el('dl')
  for (const row of rows) if (row !== null) list.append(el('div', {}, el('dt', {}, row[0]), el('dd', {}, row[1])))
  return list
}

/** A table that scrolls within itself on a narrow screen, reachable with the keyboard. */
export function table(caption: string, head: readonly string[], rows: readonly (readonly Child[])[]): HTMLElement {
  const body = el('tbody')
  for (const row of rows) {
    const cells = row.map((cell, index) => (index === 0 ? el('th', { scope: 'row' }, cell) : el('td', {}, cell)))
    body.append(el('tr', {}, ...cells))
  }
  return el(
    'div',
    { class: 'scroll', role: 'group', 'aria-label': caption, tabindex: 0 },
    el(
      'table',
      {},
      el('caption', {}, caption),
      el('thead', {}, el('tr', {}, ...head.map((word) => el('th', { scope: 'col' }, word)))),
      body,
    ),
  )
}
