/** What the daemon last said, kept in the browser for when it cannot be reached: always shown with its age. */
import { type Reader, read, siteQuery, Unreachable } from './net.js'

const STORE = 'last-known'
const KEPT_AT = 'x-kept-at'

export type Kept = { readonly body: unknown; readonly at: number }

/** One place for each path and site: what is newer takes the place of what was there, so it cannot grow. */
function place(path: string): string {
  return `/kept${path}?${siteQuery()}`
}

/** Absent where the page is not reached over https (or from the machine itself). */
function storage(): CacheStorage | null {
  return 'caches' in globalThis ? caches : null
}

async function keep(path: string, text: string, at: number): Promise<void> {
  const store = await storage()?.open(STORE)
  await store?.put(place(path), new Response(text, { headers: { [KEPT_AT]: String(at) } }))
}

/** Null where nothing was kept. */
export async function kept(path: string): Promise<Kept | null> {
  const found = await storage()?.match(place(path), { cacheName: STORE })
  if (found === undefined) return null
  const at = Number(found.headers.get(KEPT_AT))
  return Number.isFinite(at) ? { body: await found.json(), at } : null
}

/** Asks the daemon, and keeps what it says in place of what it said before. */
export const readAndKeep: Reader = async <Body>(path: string, query = ''): Promise<Body> => {
  const body = await read<Body>(path, query)
  keep(path, JSON.stringify(body), Date.now()).catch(() => {
    // A full or forbidden storage costs the view without a link, nothing else.
  })
  return body
}

/** The same from what was kept, whatever was asked of the path; `Unreachable` where nothing was. */
export const readKept: Reader = async <Body>(path: string): Promise<Body> => {
  const found = await kept(path)
  if (found === null) throw new Unreachable('no answer, and nothing was kept')
  return found.body as Body
}

/** On signing out, and when the daemon no longer knows who is asking. */
export async function forget(): Promise<void> {
  await storage()?.delete(STORE)
}
