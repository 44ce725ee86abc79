/**
 * The little that the service worker uses of its scope (W3C "Service Workers", "Push API", WHATWG "Notifications").
 * TypeScript's own declarations of it contradict those of a page, and both are checked together here.
 */

type Waiting = { waitUntil(done: Promise<unknown>): void }

export type FetchEvent = Waiting & {
  readonly request: Request
  respondWith(answer: Promise<Response>): void
}

export type PushEvent = Waiting & { readonly data: { json(): unknown } | null }

export type NotificationEvent = Waiting & {
  readonly notification: { readonly data: unknown; close(): void }
}

type WindowClient = { readonly url: string; focus(): Promise<unknown> }

type Events = {
  install: Waiting
  activate: Waiting
  fetch: FetchEvent
  push: PushEvent
  notificationclick: NotificationEvent
}

export type WorkerScope = {
  readonly location: { readonly origin: string }
  readonly clients: {
    claim(): Promise<void>
    matchAll(which: { type: 'window'; includeUncontrolled: boolean }): Promise<readonly WindowClient[]>
    openWindow(url: string): Promise<unknown>
  }
  readonly registration: {
    showNotification(title: string, options: NotificationOptions & { renotify?: boolean }): Promise<void>
  }
  addEventListener<Name extends keyof Events>(name: Name, listener: (event: Events[Name]) => void): void
}
