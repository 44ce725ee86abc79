/** The line above the sentence: which site, what time it is there, how old the data are, who is looking. */
import type { NowBody } from '../bodies/now.js'
import { formatLocalTime } from '../../model/format.js'
import { el } from './dom.js'
import { duration } from './people.js'

/** Links to the other sites of the daemon. */
function siteLinks(now: NowBody): HTMLElement | null {
  if (now.sites.length < 2) return null
  const items = now.sites.map((site) =>
    el(
      'li',
      {},
      el(
        'a',
        { href: `/?site=${encodeURIComponent(site.id)}`, 'aria-current': site.id === now.site.id ? 'page' : null },
        site.name,
      ),
    ),
  )
  return el('nav', { 'aria-label': 'Sites' }, el('ul', {}, ...items))
}

export function headPart(now: NowBody, signOut: () => void): Node[] {
  const out = el('button', { type: 'button', class: 'plain' }, `Sign out ${now.you.name}`)
  out.addEventListener('click', signOut)
  const parts: (Node | null)[] = [
    siteLinks(now) ?? el('p', { class: 'site' }, now.site.name),
    el('p', { class: 'quiet', id: 'age' }),
    now.you.signed_in ? out : null,
  ]
  return parts.filter((one) => one !== null)
}

/** The age of the data, by the daemon's clock carried on by this machine's. */
export function ageWords(now: NowBody, elapsedMs: number): string {
  const at = Date.parse(now.at) + elapsedMs
  const heard = now.last_heard
  const age =
    heard === null ? 'nothing heard yet' : `last heard ${duration(Math.max(0, at - Date.parse(heard)) / 1000)} ago`
  return `${formatLocalTime(at, now.site.timezone)} there, ${age}`
}
