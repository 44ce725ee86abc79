/**
 * The service worker: keeps the page itself (its shell, never its figures) so that it opens without a link, and shows
 * what is pushed. What was last known is kept by the page (kept.ts), which marks it as old.
 */
import { noteOf } from './push-note.js'
import type { FetchEvent, WorkerScope } from './worker-scope.js'

/** Written in by the build: addresses of the shell, and a name that changes with what is in them. */
declare const SHELL: readonly string[]
declare const VERSION: string

const scope = self as unknown as WorkerScope
const PREFIX = 'shell-'
const CACHE = `${PREFIX}${VERSION}`
/** A link slower than this gets the kept page; its figures are asked for all the same. */
const PATIENCE_MS = 3_000

async function dropOthers(): Promise<void> {
  const names = await caches.keys()
  await Promise.all(
    names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)),
  )
}

async function keptPage(): Promise<Response> {
  const kept = await caches.match('/', { cacheName: CACHE })
  return kept ?? Response.error()
}

function late(): Promise<Response> {
  return new Promise((resolve) => setTimeout(() => resolve(keptPage()), PATIENCE_MS))
}

/** The page of the daemon that answers; else the kept one. */
async function pageOf(request: Request): Promise<Response> {
  const fresh = fetch(request).catch(keptPage)
  return Promise.race([fresh, late()])
}

async function fileOf(request: Request): Promise<Response> {
  return (await caches.match(request, { cacheName: CACHE })) ?? fetch(request)
}

function answer(event: FetchEvent): void {
  const { request } = event
  const address = new URL(request.url)
  if (request.method !== 'GET' || address.origin !== scope.location.origin) return
  if (request.mode === 'navigate') {
    if (address.pathname === '/') event.respondWith(pageOf(request))
  } else if (SHELL.includes(address.pathname)) {
    event.respondWith(fileOf(request))
  }
}

async function open(address: string): Promise<void> {
  const there = await scope.clients.matchAll({ type: 'window', includeUncontrolled: true })
  const site = new URL(address, scope.location.origin).searchParams.get('site')
  const fits = there.find(({ url }) => {
    const page = new URL(url)
    const shown = page.searchParams.get('site')
    return page.pathname === '/' && (shown === null || shown === site)
  })
  await (fits === undefined ? scope.clients.openWindow(address) : fits.focus())
}

scope.addEventListener('install', (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll([...SHELL])))
})
scope.addEventListener('activate', (event) => event.waitUntil(dropOthers().then(() => scope.clients.claim())))
scope.addEventListener('fetch', answer)
scope.addEventListener('push', (event) => {
  let payload: unknown = null
  try {
    payload = event.data?.json() ?? null
  } catch {
    // No JSON: said by the note itself.
  }
  const { title, body, tag, stays, address } = noteOf(payload)
  const options = { body, tag, renotify: true, requireInteraction: stays, icon: '/icon-192.png', data: address }
  event.waitUntil(scope.registration.showNotification(title, options))
})
scope.addEventListener('notificationclick', (event) => {
  event.notification.close()
  const { data } = event.notification
  event.waitUntil(open(typeof data === 'string' ? data : '/'))
})
