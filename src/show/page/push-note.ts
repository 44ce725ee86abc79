/** What a pushed message becomes on the phone. Pure. Payload: src/tell/ways/web-push.ts. */

export type PushNote = {
  readonly title: string
  readonly body: string
  /** A later word on the same alarm takes the place of the earlier. */
  readonly tag: string
  /** Stays until somebody touches it. */
  readonly stays: boolean
  /** Where a touch leads. */
  readonly address: string
}

const NOT_READ: PushNote = {
  title: 'Sightglass has something to say',
  body: 'The message could not be read here. Open the page.',
  tag: 'not-read',
  stays: false,
  address: '/',
}

function words(payload: Record<string, unknown>, name: string): string {
  const value = payload[name]
  return typeof value === 'string' ? value : ''
}

/** A browser must show something for every push, so what cannot be read is said to be so. */
export function noteOf(payload: unknown): PushNote {
  if (typeof payload !== 'object' || payload === null) return NOT_READ
  const known = payload as Record<string, unknown>
  const site = words(known, 'site')
  const title = words(known, 'subject')
  if (known.version !== 1 || site === '' || title === '') return NOT_READ
  const alarm = words(known, 'alarm')
  const urgent = known.priority === 'critical' || known.priority === 'high'
  return {
    title,
    body: words(known, 'short'),
    tag: `${site} ${alarm === '' ? words(known, 'id') : alarm}`,
    stays: known.kind === 'alarm' && urgent,
    address: `/?site=${encodeURIComponent(site)}`,
  }
}
