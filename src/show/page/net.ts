/** Asking the daemon. */
import type { ErrorBody } from '../errors.js'

/** An answer other than 200. */
export class Refused extends Error {
  readonly status: number
  readonly expected: string | null

  constructor(status: number, message: string, expected: string | null) {
    super(message)
    this.name = 'Refused'
    this.status = status
    this.expected = expected
  }
}

/** No answer at all: the daemon or the way to it is gone. */
export class Unreachable extends Error {}

const TIMEOUT_MS = 20_000

async function ask(method: string, path: string, body: unknown, timeoutMs = TIMEOUT_MS): Promise<unknown> {
  const headers: Record<string, string> = method === 'GET' ? {} : { 'x-sightglass-act': '1' }
  if (body !== undefined) headers['content-type'] = 'application/json'
  const answer = await fetch(path, {
    method,
    headers,
    signal: AbortSignal.timeout(timeoutMs),
    ...(body === undefined ? {} : { body: JSON.stringify(body) }),
  }).catch((error: unknown) => {
    throw new Unreachable('no answer', { cause: error })
  })
  if (answer.status === 204) return null
  const json: unknown = await answer.json()
  if (answer.ok) return json
  // The API answers every refusal in this form (src/show/errors.ts).
  const refusal = json as Partial<ErrorBody>
  throw new Refused(answer.status, refusal.error ?? `The daemon answered ${answer.status}`, refusal.expected ?? null)
}

/** The site that the page's address names, as the end of an API address. */
export function siteQuery(): string {
  const site = new URLSearchParams(location.search).get('site')
  return site === null ? '' : `site=${encodeURIComponent(site)}`
}

/** How a part of the page comes by a body: from the daemon, or from what was kept of it (kept.ts). */
export type Reader = <Body>(path: string, query?: string) => Promise<Body>

function address(path: string, query: string): string {
  const words = [query, siteQuery()].filter((word) => word !== '').join('&')
  return words === '' ? path : `${path}?${words}`
}

/** The body of a GET. `Body` is what the route's own schema says: server and page are built together. */
export async function read<Body>(path: string, query = ''): Promise<Body> {
  return (await ask('GET', address(path, query), undefined)) as Body
}

/** Acts, and gives what the daemon answers. */
export async function post<Body>(path: string, body: unknown, timeoutMs = TIMEOUT_MS): Promise<Body> {
  return (await ask('POST', address(path, ''), body, timeoutMs)) as Body
}

export async function act(path: string, body?: unknown, method: 'POST' | 'DELETE' = 'POST'): Promise<void> {
  await ask(method, address(path, ''), body)
}

/** Signing in and out is for the daemon, not for one of its sites. */
export async function actWithoutSite(path: string, body?: unknown, method: 'POST' | 'DELETE' = 'POST'): Promise<void> {
  await ask(method, path, body)
}
